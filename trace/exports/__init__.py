"""What is taken away from the plant: papers to read and files to reckon with, each proved by its fingerprint."""
