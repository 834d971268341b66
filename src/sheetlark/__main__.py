"""`python -m sheetlark` is the same as `sheetlark`."""

from sheetlark.cli import main

if __name__ == "__main__":
    main()
