"""What lies between lab and plant, one module for each term, with its evidence and its draws."""
