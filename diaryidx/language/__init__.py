"""From sentences to what is meant: the rule-based spaCy pipeline, the reading of a whole recording, and the explainer.

Importing this package does not import spaCy; ``pipeline.build_pipeline`` does, when it is called.
"""

from __future__ import annotations
