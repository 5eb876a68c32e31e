"""The product's own password hasher at its lowest cost, so that tests do not wait for it."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class QuickArgon2PasswordHasher(Argon2PasswordHasher):
    """Argon2 with the least that the algorithm takes: one pass over 8 KiB (RFC 9106, 3.1)."""

    time_cost = 1
    memory_cost = 8
    parallelism = 1
