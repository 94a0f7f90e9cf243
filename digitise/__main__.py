"""``python -m digitise`` is the ``digitise`` command."""

from digitise.commands import main

if __name__ == "__main__":
    main()
