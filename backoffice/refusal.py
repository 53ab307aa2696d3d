"""A change that the rules refuse, said in one plain sentence to the person who asked for it."""


class Refused(Exception):
    """The sentence is shown to the user as it stands."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
