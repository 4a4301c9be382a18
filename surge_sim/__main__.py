"""``python -m surge_sim``: the same as ``surge-sim``."""

from surge_sim.cli.ending import main

if __name__ == "__main__":
    main()
