"""A customer's question: the passages that answer it, the cautions that go with it, and a reply to paste."""
