"""``python -m strutsweep``: the command line."""

from strutsweep.command_line import main

if __name__ == "__main__":
    main()
