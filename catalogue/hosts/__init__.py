"""Two machines as a person describes them: the bench host that runs the utility, the destination host of the card."""
