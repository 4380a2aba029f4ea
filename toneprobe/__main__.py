"""`python -m toneprobe`: the command line, where the installed command is not on the path."""

from toneprobe.cli import main

if __name__ == "__main__":  # and not in the processes that share out the plucks
    main()
