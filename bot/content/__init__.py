"""The content as data: messages/ and locales/ come in, values for the core and words for mothers go out."""
