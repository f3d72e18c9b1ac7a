"""What all screens share: the frame, the keys, the theme, signing in, and what the program does for them."""
