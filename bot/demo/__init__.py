"""An invented district to try the program with, and the stand-in for a gateway and its phones."""
