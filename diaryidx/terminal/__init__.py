"""What the commands print for a person: plain words, times as m:ss, certainty in words.

Used by `cli` alone, module by module.
"""
