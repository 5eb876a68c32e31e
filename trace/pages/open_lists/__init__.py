"""What is open in the plant: holds in force, lots awaiting release, open cycles, what a person must look at."""
