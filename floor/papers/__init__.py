"""What leaves the screen."""
