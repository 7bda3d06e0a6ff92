"""`python -m api.cli` is the command line too."""

from api.cli.main import main

main()
