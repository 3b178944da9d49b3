"""`python -m trialkit` is the same as the command `trialkit`."""

from trialkit.cli import main

if __name__ == "__main__":
    main()
