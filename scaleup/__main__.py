"""``python -m scaleup``."""

from scaleup.cli import main

if __name__ == "__main__":
    main()
