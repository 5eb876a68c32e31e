"""What many hulls tell together: what the bad ones share, and plates that stand on each other's mouldings."""
