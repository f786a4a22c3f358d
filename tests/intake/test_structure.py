"""How the shipped base reads the build of sentences: what reaches over which words, told by pairs of near sentences.

The sentences are invented for this test. A sign before the finding: "+" present, "-" absent, "!" not told at all; other
findings of a sentence are left open, since they are the wordings' affair. The first rows of a table show the mechanism,
those after `COUNTER` the near misses that it must leave alone.
"""

import pytest

from intake import read_complaint
from knowledge import shipped_base

pytestmark = pytest.mark.usefixtures("wordings_alone")

GAPS = [
    ("The fan spins and the screen stays black.", "+fans-spin -picture !fan-stopped"),
    ("The light comes on and the fans do not turn.", "+power-light -fans-spin"),
    ("The fans whirr away, the monitor remains dark.", "-picture !fan-stopped"),
    ("I am not an engineer, so: I swapped the mains lead.", "+lead-swapped"),
    ("Out of nowhere the fans turn.", "+fans-spin"),
    ("Hers does not do that, mine freezes.", "+freezes"),
    ("Cables hold no mystery for me: I reseated the memory.", "+memory-reseated"),
    ("Overnight without mains the clock resets.", "+clock-resets"),
    ("It would not: the fans turn but nothing comes up.", "+fans-spin"),
]
GAPS_COUNTER = [
    ("If the fans turn, is the supply sound?", "!fans-spin"),
    ("The fan in the supply does not spin.", "+fan-stopped"),
    ("The screen on the desk stays black.", "-picture"),
    ("No fans, no lights and no beeps.", "-fans-spin -power-light -beeps"),
    ("I never saw any smoke or sparks.", "-smoke -sparks"),
]

REPORTED = [
    ("The young man asked if there was any smoke, I said no.", "-smoke"),
    ("My son wanted to know if it beeps; it doesn't.", "-beeps"),
    ("You asked about beeps: none.", "-beeps"),
    ("You asked whether there was a burning smell. No.", "-burning-smell"),
    ("Beeps? No. Fans: yes, all three. Smell - none.", "-beeps +fans-spin -burning-smell"),
    ("lights: on / fans: off", "+power-light -fans-spin"),
    ("Any smoke? None that I saw.", "-smoke"),
    ("Does it beep? No, never.", "-beeps"),
    ("Do the fans turn? Yes, they do.", "+fans-spin"),
    ("Did anything get spilled on it? Yes.", "+liquid-spilled"),
    ("Smoke or sparks? No, neither.", "-smoke -sparks"),
]
REPORTED_COUNTER = [
    ("You asked whether it beeps.", "!beeps"),
    ("Does it beep? I could not say.", "!beeps"),
    ("Do the fans turn? No idea.", "!fans-spin"),
    ("He asked if there was any smoke, and I said I would look.", "!smoke"),
    ("Could it be the smoke alarm? No idea. The fans turn.", "+fans-spin"),
]

CORRECTED = [
    ("It reboots, no sorry, not reboots, it goes off whenever I play a game.", "+turns-off-under-load"),
    ("The fans don't spin. Scrap that, the fans do spin.", "+fans-spin"),
    ("There are no beeps, sorry, I mean it does beep.", "+beeps"),
    ("The power light is on, or rather the light is off.", "-power-light"),
    ("The fans are still, oops, the fans do turn.", "+fans-spin"),
    ("The lights don't come on - correction, the power light comes on.", "+power-light"),
    ("No fans. Oh wait, the fans do turn.", "+fans-spin"),
    ("It does not beep, no wait, it does beep.", "+beeps"),
]
CORRECTED_COUNTER = [
    ("Sorry, there are no beeps.", "-beeps"),
    ("No beeps, sorry for the short letter.", "-beeps"),
    ("No fans, I mean really no fans.", "-fans-spin"),
    ("There is no smoke, I am sorry to say it is just dead.", "-smoke +dead"),
]

SUPPOSED = [
    ("Would it help if I reseated the memory?", "!memory-reseated"),
    ("Should I clear the cmos or swap the supply?", "!settings-cleared !supply-swapped"),
    ("If I took the graphics card out, would the board give a picture?", "!graphics-removed !picture"),
    ("Could it be that it overheats, since it is summer?", "!overheats"),
    ("Shall I try another socket, or is that pointless?", "!other-outlet-tried"),
    ("Is it worth it if I replace the coin cell?", "!coin-cell-replaced"),
    ("I could swap the mains lead if you think so.", "!lead-swapped"),
    ("What happens when I clear the cmos, will it forget everything?", "!settings-cleared"),
    ("Do you want me to reseat the memory?", "!memory-reseated"),
]
SUPPOSED_COUNTER = [
    ("I reseated the memory, should I do more?", "+memory-reseated"),
    ("If I press the button the fans spin.", "+fans-spin"),
    ("When I start it, it beeps, is that normal?", "+beeps"),
    ("I swapped the mains lead, would it help if I brought both?", "+lead-swapped"),
]

FRONTED = [
    ("Burning smell I can't say there was.", "-burning-smell"),
    ("Beeps it never gave.", "-beeps"),
    ("Smoke I have not seen.", "-smoke"),
    ("Sparks there were none.", "-sparks"),
    ("Of smoke there was no trace.", "-smoke"),
    ("No picture, just beeps.", "-picture +beeps"),
    ("Beeps but no picture.", "+beeps -picture"),
    ("The lights are on but there is not so much as a puff of smoke.", "-smoke +power-light"),
    ("Smoke, thank goodness, there was none.", "-smoke"),
    ("A burning smell I did not notice.", "-burning-smell"),
]
FRONTED_COUNTER = [
    ("The smoke I saw was not little.", "+smoke"),
    ("The beeps it gave were not loud.", "!fans-spin"),
    ("There was smoke I did not expect.", "+smoke"),
    ("The smoke I can't describe.", "+smoke"),
]

THEN_AND_NOW = [
    ("It used to start at once but today it beeps.", "+beeps"),
    ("It used to be quiet, today the fan noise is awful.", "+fan-noise"),
    ("It was fine for years, this morning it smoked.", "+smoke"),
    ("It had been fast, since Monday it freezes.", "+freezes"),
    ("Until last week it had always been well, now it beeps.", "+beeps"),
    ("At first it showed a picture, these days it beeps.", "+beeps"),
    ("Last year it was slow, yesterday there was smoke.", "+smoke !slow"),
    ("For years it ran, tonight it freezes.", "+freezes"),
]
# What was dangerous and is over was dangerous: "there was a pop, then it died" is told of this fault.
DANGER_OVER = [
    ("It smoked until I pulled the plug.", "+smoke"),
    ("There had been a burning smell all morning.", "+burning-smell"),
    ("There were sparks till my husband switched it off.", "+sparks"),
    ("Smoke came out before it died.", "+smoke"),
    ("It gave me a shock before I had even switched it on.", "+shock"),
    ("There had been smoke, my wife says.", "+smoke"),
    ("Sparks came out of it until the breaker went.", "+sparks"),
    ("It stank of burning until I opened the window.", "+burning-smell"),
]
DANGER_OVER_COUNTER = [
    ("There was smoke last year, when I bought it.", "!smoke"),
    ("It used to smoke.", "!smoke"),
    ("Years ago there were sparks.", "!sparks"),
    ("If one day it should smoke until the alarm goes, I shall ring you.", "!smoke"),
]

# A denial beside another denial of the same thing, or one that says what was not liked, undoes nothing.
DENIED_ONCE = [
    ("No light no fan nothing.", "-power-light -fans-spin"),
    ("It has been moved by nobody and opened by nobody.", "-transported -taken-apart"),
    ("It did not like being moved to the new flat.", "+transported"),
    ("No smoke, sparks none.", "-smoke -sparks"),
    ("No beeps at all, lights none.", "-beeps -power-light"),
    ("Nobody has opened it, nobody has moved it.", "-taken-apart -transported"),
    ("No beeps, no lights, no nothing.", "-beeps -power-light"),
    ("There is no smoke, nor has there been any smell.", "-smoke -burning-smell"),
]
DENIED_ONCE_COUNTER = [
    ("It is never without smoke.", "+smoke"),
    ("It does beep, no doubt about that.", "+beeps"),
    ("No smoke without a spark, they say, but mine sparks.", "+sparks"),
    ("It is not without sparks.", "+sparks"),
]

THEN_AND_NOW_COUNTER = [
    ("It used to beep.", "!beeps"),
    ("It used to freeze in the morning.", "!freezes"),
    ("Last year there was smoke and beeping.", "!smoke !beeps"),
    ("It used to freeze every day.", "!freezes"),
]

BESIDE = [
    ("The toaster smoked last week, the computer is just dead.", "!smoke +dead"),
    ("My phone battery is swollen, and the computer will not start.", "!battery-swollen"),
    ("The kettle tripped the breaker. The computer beeps.", "!breaker-trips +beeps"),
    ("Our printer sparks. The computer freezes.", "!sparks +freezes"),
    ("The microwave smells of burning; the pc is dead.", "!burning-smell +dead"),
    ("My neighbour's computer smoked; mine beeps.", "!smoke +beeps"),
    ("The lamp gave me a shock, the computer never did.", "!shock"),
    ("Smoke came out of the toaster, the computer is dead.", "!smoke"),
]
BESIDE_COUNTER = [
    ("The computer smoked and the lamp is fine.", "+smoke"),
    ("The heater was on when smoke came out of the computer.", "+smoke"),
    ("The smoke alarm went off because the computer smoked.", "+smoke"),
    ("Smoke came out of the power supply.", "+smoke"),
]

TABLES = {
    "gaps": GAPS + GAPS_COUNTER,
    "reported": REPORTED + REPORTED_COUNTER,
    "corrected": CORRECTED + CORRECTED_COUNTER,
    "supposed": SUPPOSED + SUPPOSED_COUNTER,
    "fronted": FRONTED + FRONTED_COUNTER,
    "then and now": THEN_AND_NOW + THEN_AND_NOW_COUNTER,
    "danger over": DANGER_OVER + DANGER_OVER_COUNTER,
    "denied once": DENIED_ONCE + DENIED_ONCE_COUNTER,
    "beside": BESIDE + BESIDE_COUNTER,
}


@pytest.mark.parametrize(
    ("message", "expected"),
    [pytest.param(*row, id=f"{name}: {row[0][:60]}") for name, rows in TABLES.items() for row in rows],
)
def test_a_sentence_is_read_by_its_build(message, expected):
    """Each sign of the row, and nothing said of the others."""
    states = {found.id: found.state for found in read_complaint(message, shipped_base()).told}
    signs = {"present": "+", "absent": "-", None: "!"}
    told = {signs[states.get(mark[1:])] + mark[1:] for mark in expected.split()}
    assert told == set(expected.split())


@pytest.mark.parametrize(
    ("message", "finding", "detail"),
    [
        ("Swapped the mains lead. Nope, same.", "lead-swapped", "no change"),
        ("I swapped the mains lead. That changed nothing.", "lead-swapped", "no change"),
        ("Reseated the memory; it made no difference.", "memory-reseated", "no change"),
        ("I reseated the memory. To no avail.", "memory-reseated", "no change"),
        ("Tried another power supply. Nothing.", "supply-swapped", "no change"),
        ("I swapped the mains lead. Did it help? No.", "lead-swapped", "no change"),
        ("Reseated the memory, and hey presto, it works now.", "memory-reseated", "cured"),
        ("Cleared the cmos. Nada.", "settings-cleared", "no change"),
        ("Swapped the mains lead (no change).", "lead-swapped", "no change"),
        # near misses
        ("Swapped the mains lead. Nobody is at home on Monday.", "lead-swapped", None),
        ("Swapped the mains lead. Should I do the same with the socket?", "lead-swapped", None),
        ("Swapped the mains lead.", "lead-swapped", None),
        ("Swapped the mains lead. Nothing else is plugged in there.", "lead-swapped", None),
    ],
)
def test_the_outcome_of_a_trial_is_told_next(message, finding, detail):
    """In the next clause or sentence, in whatever words."""
    details = {found.id: found.detail for found in read_complaint(message, shipped_base()).told}
    assert details.get(finding, "not told") == detail
