"""Closed classes of English words that the reading rests on: grammar, not knowledge of machines.

Words of the trade and ways of saying things are data, in the knowledge base.
"""

NEGATIVE = frozenset("no not never nothing none neither nor nobody nowhere without".split())

# After a negation these only repeat it, as in "it don't do nothing"; `not`, `without` undo it ("never without smoke").
CONCORD = frozenset("no nothing none neither nor nobody nowhere never any".split())

PRONOUNS = frozenset(
    "i it we he she they you there this that these those everything nothing nobody someone somebody".split()
)
DETERMINERS = frozenset("the a an my our his her their your its all every each both some no another".split())

AUXILIARIES = frozenset(
    "is are was were am be been being do does did has have had can could will would shall should may might must".split()
)

COORDINATORS = frozenset("and or nor but yet".split())
CONTRASTS = frozenset("but however although though whereas yet except".split())
SUBORDINATORS = frozenset(
    "when whenever while if after before because since until unless once as cos cause till".split()
)
SEQUENCE = frozenset("then now afterwards".split())

# Words that make "lights on", "screen black" a statement rather than one more item of "no fans, lights".
PREDICATES = frozenset(
    "on off up out down back lit dark black blank dead fine ok okay good normal work run come go turn start stay stop move"
    " spin show appear flash blink glow shut die restart reboot crash freeze die lights-up is are was were do does did"
    " has have can will none absent missing there dim solid steady".split()
)

# "can't hear the fans", "don't get any lights": a thing not perceived is a thing denied.
PERCEIVE = frozenset(
    "see hear get have show give make smell notice feel find any sign of the a with from in on at".split()
)

PREPOSITIONS = frozenset(
    "of on in at from to for with by under over inside near behind into onto off about than".split()
)

# Before a mid-sentence "it is" these tell that no new statement begins there ("is it", "that it", "think it").
OPENERS = frozenset(
    "and or but that if when because so as than what how why where which who whether think thought say said"
    " says guess hope sure then while until before after since until once like".split()
)

FILLERS = frozenset(
    "the a an my our his her their your its is are was were am be been being do does did has have had will would can could"
    " just even really still all at now then again actually not it they also only quite very so any 's".split()
)

NUMBER_WORDS = frozenset(
    "one two three four five six seven eight nine ten eleven twelve fifteen twenty thirty forty fifty sixty hundred".split()
)

# What these ask about is taken for granted: "why does it beep?" says that it beeps.
QUESTION_WORDS = frozenset("why how what which who where when".split())

ANSWERS = frozenset("no none nope nah nil nothing negative never yes yep yeah".split())
YES = frozenset("yes yep yeah".split())

_STEMS = "do does did is are was were have has had could would should must need might dos dose doe di".split()
_NEGATIVE_FORMS = {
    **{f"{stem}nt": (stem, "not") for stem in _STEMS},
    **dict(
        wont=("will", "not"), cant=("can", "not"), cannot=("can", "not"), shant=("shall", "not"), aint=("is", "not")
    ),
    **dict(dosnt=("does", "not"), dosent=("does", "not"), doesent=("does", "not"), didint=("did", "not")),
    **dict(dident=("did", "not"), isint=("is", "not"), wasent=("was", "not"), woudnt=("would", "not")),
    **dict(doenst=("does", "not"), donst=("does", "not"), couldent=("could", "not"), havnt=("have", "not")),
    **dict(dosen=("does", "not"), dnt=("do", "not"), nt=("not",)),
}
CONTRACTIONS: dict[str, tuple[str, ...]] = {
    **_NEGATIVE_FORMS,
    **dict(im=("i", "am"), ive=("i", "have"), theres=("there", "is"), thats=("that", "is"), whats=("what", "is")),
    **dict(youre=("you", "are"), theyre=("they", "are"), itll=("it", "will"), gonna=("going", "to")),
}
# What follows an apostrophe; after other words "'s" is a possessive.
ENDINGS = {"s": "'s", "re": "are", "ve": "have", "ll": "will", "m": "am", "d": "would", "t": "not"}
IS_AFTER = frozenset("it that there what he she who here everything nothing where how this".split())

ENGLISH = (
    FILLERS
    | PRONOUNS
    | AUXILIARIES
    | COORDINATORS
    | SUBORDINATORS
    | frozenset(
        "in on of to for with but when if what i me out up down off from by about no yes there here which".split()
    )
)
# Common words of the languages of the neighbours, without those that are English words too.
FOREIGN = frozenset(
    "der das und ist nicht ich ein eine mein meine aber wenn mit auch noch mehr geht nach beim keine kein wird el los las"
    " una pero cuando muy con para por esta mi enciende la le les des est pas je une mon quand mais avec il ne que plus"
    " het een niet mijn maar dan wel ook geen mij de si non il che della sono quando anche nao uma meu minha mas nie jest"
    " sie się mój ale gdy och jag inte ett när men det som av på är ikke og jeg det når".split()
)
