"""Short names, on the screens, of facts that a counsellor may hear besides what mothers are asked, in the
order in which she would ask. Only names: what each means stands in messages/facts.toml."""

from __future__ import annotations

from bot.web.words import lazy

NUMBERS = {
    "temperature_c": lazy("Temperature of the baby"),
    "breaths_per_minute": lazy("Breaths a minute"),
    "last_wet_hours": lazy("Hours since the last wet nappy"),
    "days_since_stool": lazy("Days since the last stool"),
    "feed_gap_hours": lazy("Hours between two feeds"),
    "feed_minutes": lazy("Minutes of a feed"),
    "skin_pustules": lazy("Pimples with pus"),
    "mother_temperature_c": lazy("Temperature of the mother"),
    "pad_minutes": lazy("Minutes in which a pad is soaked"),
    "phq2": lazy("PHQ-2 points"),
}
CHOICES = {
    "jaundice_extent": lazy("Yellow down to"),
    "pain_when": lazy("When it hurts"),
    "fever_cause": lazy("Cause of the fever"),
}
YES_NO = {
    "no_urine_since_birth": lazy("No urine since birth"),
    "no_stool_since_birth": lazy("No stool since birth"),
    "stool_black": lazy("Stool still black"),
    "stool_pale": lazy("Pale stools"),
    "watery_stools": lazy("Watery stools"),
    "pink_stain": lazy("Pink or orange stain in the nappy"),
    "urine_dark": lazy("Dark urine"),
    "blue_lips": lazy("Blue lips"),
    "grunting": lazy("Grunts or gasps"),
    "high_cry": lazy("High-pitched cry"),
    "baby_pale": lazy("Very pale"),
    "belly_swollen": lazy("Swollen belly"),
    "baby_bleeding": lazy("The baby bleeds"),
    "cord_redness_spreading": lazy("Redness from the cord on the belly skin"),
    "cord_bleeding": lazy("The cord bleeds"),
    "skin_blisters": lazy("Large pustules or blisters"),
    "eye_sticky": lazy("Sticky eye, not red"),
    "eyes_red_pus": lazy("Eyelids red, swollen, with pus"),
    "thrush": lazy("White patches in the mouth (thrush)"),
    "clot_egg_size": lazy("A clot the size of an egg"),
    "sight_disturbed": lazy("Blurred sight or spots"),
    "mild_headache": lazy("Mild headache"),
    "fainting": lazy("Fainted or nearly did"),
    "face_swelling": lazy("Face or hands swollen"),
    "wound_problem": lazy("Wound: pus, more pain, opening"),
    "urine_problem": lazy("Can't pass urine, leaks, or burns"),
    "cannot_attach": lazy("The baby can't take the breast"),
    "nipple_cracked": lazy("Nipple cracked, bleeding or flattened"),
    "stopped_feeding_for_pain": lazy("Skips feeds because of pain"),
    "breasts_full_hard": lazy("Both breasts full and hard"),
    "breast_red_area": lazy("One part of a breast red or hard"),
    "breast_infection_severe": lazy("Breast with pus, spreading fast, or very ill"),
    "low_mood": lazy("Low mood or no sleep for two weeks"),
    "whooley": lazy("A yes to the two mood questions"),
    "cannot_cope": lazy("Can't care for herself or the baby"),
    "hears_voices": lazy("Hears or sees things, confused"),
    "baby_not_hers": lazy("Feels that the baby is not hers"),
    "violence_at_home": lazy("Hurt or threatened at home"),
}
NAMES = NUMBERS | CHOICES | YES_NO

# What a choice may be, of an answer or worked out from several.
WORDS = {
    "face": lazy("face"),
    "body": lazy("body"),
    "unknown": lazy("not known"),
    "legs": lazy("legs"),
    "palms_soles": lazy("palms or soles"),
    "one_breast": lazy("one breast"),
    "passed": lazy("passed"),
    "not_known": lazy("not known"),
    "never": lazy("never"),
    "latch_only": lazy("the first seconds only"),
    "whole_feed": lazy("the whole feed"),
}
