"""`python -m orderlint`: the command line. Nothing else."""

from orderlint.cli import main

if __name__ == "__main__":
    main()
