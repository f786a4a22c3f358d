"""Closed classes of English words that the reading rests on: grammar, not knowledge of machines.

Words of the trade and ways of saying things are data, in the knowledge base.
"""


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


NEGATIVE = _words("no not never nothing none neither nor nobody nowhere without")

# After a negation these only repeat it, as in "it don't do nothing"; `not`, `without` undo it ("never without smoke").
CONCORD = _words("no nothing none neither nor nobody nowhere never any")

INDEFINITE_NO = _words("no nothing none nobody nowhere")

PRONOUNS = _words("i it we he she they you there this that these those everything nothing nobody someone somebody")
DETERMINERS = _words("the a an my our his her their your its all every each both some no another")

AUXILIARIES = _words(
    "is are was were am be been being do does did has have had can could will would shall should may might must"
)

# Where a cue that ends a reach begins with one of these, it ends what is told of the past, and nothing else.
TIMES = _words("today tonight this yesterday last these nowadays since")

# "I could swap the lead", "she will clear it": what is only meant to be done.
MODALS = _words("could will would shall should can may might")

COORDINATORS = _words("and or nor but yet")
CONTRASTS = _words("but however although though whereas yet except")
SUBORDINATORS = _words("when whenever while if after before because since until unless cos cause till")
MAYBE_SUBORDINATORS = _words("so as once like")  # only before a new subject: "as i sit here", not "dead as mutton"
SEQUENCE = _words("then now afterwards")
UNTIL = _words("until till")
OF_ALL = _words("either neither none nothing both all any each them these nope")  # "neither helped"

# Words that make "lights on", "screen black" a statement rather than one more item of "no fans, lights".
PREDICATES = _words(
    "on off up out down back lit dark black blank dead fine ok okay good normal work run come go turn start stay stop"
    " move spin show appear flash blink glow shut die restart reboot crash freeze is are was were do does did"
    " has have can will none absent missing there dim solid steady red green orange amber blue white yellow"
)

# Right after "not" these are only put right: "not restarts, it goes off" denies the restarts.
ACTS = _words(
    "goes comes runs starts stops turns moves spins shows appears flashes blinks shuts dies restarts reboots crashes"
    " freezes works stays beeps hums clicks keeps"
)

# "can't hear the fans", "don't get any lights": a thing not perceived is a thing denied.
PERCEIVE = _words(
    "see hear get have show give make smell notice feel find any sign of the a single one with from in on at"
    " saw seen heard got had gave given made smelt smelled noticed noticing felt found detect detected spot spotted"
)

# Before a mid-sentence "it is" these tell that no new statement begins there ("is it", "that it", "think it").
OPENERS = _words(
    "and or but that if when because so as than what how why where which who whether think thought say said"
    " says guess hope sure then while until before after since until once like of from with for about"
)

FILLERS = _words(
    "the a an my our his her their your its is are was were am be been being do does did has have had will would can"
    " could just even really still all at now then again actually not it they also only quite very so any 's"
)

NUMBER_WORDS = _words(
    "one two three four five six seven eight nine ten eleven twelve fifteen twenty thirty forty fifty sixty hundred"
)

# What these ask about is taken for granted: "why does it beep?" says that it beeps.
QUESTION_WORDS = _words("why how what which who where when")

ANSWERS = _words("no none nope nah nil nothing nada nowt zilch zip negative never yes yep yeah")
YES = _words("yes yep yeah")
DENIALS = ANSWERS - YES
DENYING = _words("no none never negative")  # after a trial the others tell how it came out ("another lead: nothing")
# "None that I saw", "no it never did": a reply that goes on; "no idea" is none.
REPLY_GOES_ON = _words("that i we it they there not at whatsoever as so he she")
ASKING = _words("asked ask asks asking wondered wonders know enquired inquired")
ASKED_ABOUT = _words("if whether about for after any")
SAYING = _words("said say says told answered replied him her them you that is was be answer")
ECHOES = _words("it they there he she i we")

DASHES = frozenset("-–—")

_NEGATED = _words("do does did is are was were have has had could would should must need might dos dose doe di")
# Written without the apostrophe, or wrongly; with it they end alike ("don't" gives the same as "dont").
_SPELLED_OUT = {
    "wont": "will not",
    "cant": "can not",
    "cannot": "can not",
    "shant": "shall not",
    "aint": "is not",
    "nt": "not",
    "dnt": "do not",
    "dosnt": "does not",
    "dosent": "does not",
    "dosen": "does not",
    "doesent": "does not",
    "doenst": "does not",
    "donst": "does not",
    "didint": "did not",
    "dident": "did not",
    "isint": "is not",
    "wasent": "was not",
    "woudnt": "would not",
    "couldent": "could not",
    "havnt": "have not",
    "im": "i am",
    "ive": "i have",
    "theres": "there is",
    "thats": "that is",
    "whats": "what is",
    "youre": "you are",
    "theyre": "they are",
    "itll": "it will",
    "gonna": "going to",
    "bc": "because",
    "bcs": "because",
    "bcoz": "because",
    "becos": "because",
    "coz": "because",
    "cuz": "because",
    "tho": "though",
    "altho": "although",
    "agen": "again",
    "agin": "again",
    "trys": "tries",
    "doin": "doing",
    "goin": "going",
    "nothin": "nothing",
    "somethin": "something",
    "comin": "coming",
    "lookin": "looking",
    "gettin": "getting",
    "tryin": "trying",
    "sayin": "saying",
    "thinkin": "thinking",
    "talkin": "talking",
}
CONTRACTIONS: dict[str, tuple[str, ...]] = {
    **{f"{verb}nt": (verb, "not") for verb in sorted(_NEGATED)},
    **{written: tuple(words.split()) for written, words in _SPELLED_OUT.items()},
}
# What follows an apostrophe; after other words "'s" is a possessive.
ENDINGS = {"s": "'s", "re": "are", "ve": "have", "ll": "will", "m": "am", "d": "would", "t": "not"}
IS_AFTER = _words("it that there what he she who here everything nothing where how this")
# Words that make an "its" before them an "it's", as hasty people write it; the nouns in -ing do not.
AFTER_IT_IS = _words(
    "a an the not just now still been dead fine off on so very too only all like gone stuck always never really quite"
    " broken also got been black blank dark back here there about because no nothing only completely totally proper"
    " properly either cold hot slow loud fully happened stopped started turned gotten my your his her probably maybe"
    " definitely lit plugged in at up out done ok okay good"
)
NOUNS_IN_ING = _words("casing housing wiring lighting cooling setting thing nothing something ring bearing rating")

ENGLISH = (
    FILLERS
    | PRONOUNS
    | AUXILIARIES
    | COORDINATORS
    | SUBORDINATORS
    | _words("in on of to for with but when if what i me out up down off from by about no yes there here which")
)
# Common words of the languages of the neighbours, without those that are English words too.
FOREIGN = _words(
    "der das und ist nicht ich ein eine mein meine aber wenn mit auch noch mehr geht nach beim keine kein wird el los"
    " las una pero cuando muy para por esta mi enciende la le les est pas je une mon mais avec il ne que"
    " het een niet mijn maar dan wel ook geen mij de si non il che della sono quando anche nao uma meu minha mas nie"
    " jest sie się mój ale gdy och jag inte ett när det som av på är ikke og jeg det når"
)
