"""What is decided before the first vessel is filled."""
