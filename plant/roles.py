"""The roles a person of the plant can have."""

ROLES = (
    "operator", "stores", "warehouse", "lead", "quality", "deputy", "auditor", "planner", "maintenance",
    "administrator",
)  # fmt: skip
