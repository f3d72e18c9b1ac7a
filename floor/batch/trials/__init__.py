"""Trials: settings tried on a few pieces before or in a batch, what they gave, and the choice.

Its pieces are pieces of the batch, taken out and back as surplus is, so conservation, yields and the forecast need no
second count; blanks beside the batch would have been a second stock. A lead brings them back, as something was done to
them off the route, and then they pass all that is to come. Anybody chooses: it binds nobody here, and
`TrialSettingChosen.offer` waits for whoever changes the checklist.
"""

__all__ = ["commands", "compare", "pieces", "typed_numbers"]
