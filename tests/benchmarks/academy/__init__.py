"""An invented academy of any size: years of lessons flown by the demo's pilots, copied into an empty database.

The demo proves the actions by going through them; this shows how the pages bear many rows. Students fly as in the
demo (grading/simulation/demo/flying.py), grades come from the marking and sealed texts from
grading/evidence/lesson_payload.py; only the way into the database is another one.
"""
