"""`python -m bot.cli` is the console script."""

from bot.cli import main

main()
