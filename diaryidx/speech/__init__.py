"""From samples to words: engines behind one small protocol, the home of their models, and the splitting at silences.

``splitting`` cuts a film's sound into stretches, ``hearing`` has them heard on all cores, ``home`` opens the engine,
``download`` fetches the publisher's model. Importing any of them loads no engine.
"""
