"""`python -m diaryidx.cli` is `diaryidx`."""

from diaryidx.cli import main

if __name__ == "__main__":
    main()
