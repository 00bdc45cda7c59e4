"""Evidence: the payloads that are sealed, the chain, its signed head, what an erasure takes, and the audit."""
