class Refusal(Exception):
    """An action that the records do not allow. The text is a sentence for the person who asked."""
