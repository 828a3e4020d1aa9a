"""The pure core: what is decided, with no clock, file, network or database inside."""
