"""`python -m logger` is `wickbench`."""

from logger.cli import main

if __name__ == "__main__":
    main()
