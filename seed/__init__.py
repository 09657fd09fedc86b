"""An invented workshop to try the program on. Nobody and nothing in it exists."""
