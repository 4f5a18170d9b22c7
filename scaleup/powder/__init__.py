"""What the powder does: densification under a pulse, and the tablet that comes out."""
