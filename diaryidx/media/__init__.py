"""Everything that knows about containers and codecs: what a recording is, how it sounds, what it shows, its date.

``probe`` looks at a file, ``decode`` turns its sound into 16 kHz samples, ``stills`` takes a picture out of it,
``identity`` finds recordings and tells them apart, ``dates`` guesses when, what kind and what title.
"""
