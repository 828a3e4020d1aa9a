"""A cohort on a virtual clock: the real core over invented mothers, as many and as long as wished.

    assumed.toml -> assumed -> people (a mother and her truth) -> life (her events through `follow`) -> tally
    -> run (batches, processes) -> queue (the counsellors, all mothers together) -> outcome -> page

How mothers, phones and staff behave is assumed, not measured; what the program does is the program itself.
"""
