"""What the sheets say of a hull and of a lot as known at a moment, read by the desk and by the papers taken away."""
