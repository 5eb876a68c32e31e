"""The invented plant, told through the same records as a real one."""
