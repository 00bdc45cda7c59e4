"""What is sealed: the payloads, the chain, its signed head, what an erasure takes, and the audit of all of it."""
