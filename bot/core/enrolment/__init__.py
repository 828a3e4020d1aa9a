"""Discharge details as they were given -> a pair ready to be followed, or all that is wrong with them.

One validation for the form at the bedside, the CSV file and the API. `fields` reads one value; `examination`
knows what an enrolment holds and builds the pair, its babies come from `babies`; `differs` compares a
repeated enrolment with what is stored; `flat` turns the rows of a file into the nested shape.
"""

from bot.core.enrolment.differs import differences
from bot.core.enrolment.examination import Examined, Terms, examine
from bot.core.enrolment.fields import Fault

__all__ = ["Examined", "Fault", "Terms", "differences", "examine"]
