"""Records for what a build draws and what fits what: loads, plugs, slots, efficiency, fits, couplings, prices."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from knowledge.record import Id, Record, Text

Amount = Annotated[float, Field(ge=0.0)]
Share = Annotated[float, Field(ge=0.0, lt=1.0)]
# Sustained, and at its highest.
Range = tuple[Amount, Amount]
NOTHING: Range = (0.0, 0.0)


class BuildPart(Record):
    """A kind of part of a machine, and what is asked where nothing, or too little, is known of it.

    `needed`: no power budget is complete without it; `always`: every machine has one, and one class covers them all.
    `ask` is for a part that was not named, `ask_kind` for one that was, but belongs to none of the classes of `loads`.
    `single`: a machine has one, so that two mentions are of the same; `counted`: how many there are must be told.
    `ask_plugs` is for its power plugs or sockets. `bought`: a shop can replace it.
    """

    id: Id
    title: Text
    ask: Text
    ask_kind: Text
    ask_plugs: str = ""
    needed: bool = False
    always: bool = False
    single: bool = False
    counted: bool = False
    bought: bool = True


class Load(Record):
    """What one part of a class draws, each value sustained and at its highest.

    `match`: the facts that put a part into the class; of several that match, the one with most facts counts.
    `up_to_watts`: the power class; a part belongs to the lowest class that is not below it.
    `amps_12v` are at `volts`; `watts_minor` come from 3.3 V and 5 V; `watts_either` may come from any rail, and count
    in full against 12 V as well. `lasts`: whether the highest value holds for milliseconds or for seconds.
    """

    id: Id
    part: Id
    title: Text
    match: dict[str, str] = Field(default_factory=dict)
    up_to_watts: Amount | None = None
    amps_12v: Range = NOTHING
    volts: Annotated[float, Field(gt=0.0)] = 12.0
    watts_minor: Range = NOTHING
    watts_either: Range = NOTHING
    lasts: Literal["ms", "s"] = "s"
    source: Text

    @model_validator(mode="after")
    def _in_order(self) -> "Load":
        for name in ("amps_12v", "watts_minor", "watts_either"):
            if getattr(self, name)[0] > getattr(self, name)[1]:
                raise ValueError(f"{name}: the sustained value is above the highest")
        return self

    @property
    def watts_12v(self) -> Range:
        """What comes from 12 V for certain, in watts."""
        return self.amps_12v[0] * self.volts, self.amps_12v[1] * self.volts


class Connector(Record):
    """A power plug of a supply: the sockets it serves, and what it may carry for longer than a second.

    `watts` and `amps` are limits of the whole plug, `contacts` x `contact_amps` those of its 12 V contacts.
    `classes`: the powers that the plug can announce; which one, must be read off the lead.
    `own`: a maker's own plug, that nothing but its own supply fits. `drives`: the kinds of drive that need one each.
    """

    id: Id
    title: Text
    feeds: Literal["board", "cpu", "graphics", "drive"]
    serves: tuple[Id, ...] = ()
    watts: Amount | None = None
    amps: Amount | None = None
    contacts: Annotated[int, Field(ge=0)] = 0
    contact_amps: Amount | None = None
    classes: tuple[Amount, ...] = ()
    own: bool = False
    drives: tuple[str, ...] = ()
    note: str = ""
    source: Text


class Slot(Record):
    """What a slot of the board may give a card; `card_watts` is the most that a card may take from all sources."""

    id: Id
    title: Text
    watts: Amount
    amps_12v: Amount | None = None
    amps_3v3: Amount | None = None
    card_watts: Amount | None = None
    excursion: Annotated[float, Field(ge=1.0)] = 1.0
    source: Text


class Excursion(Record):
    """What a supply must bear for a short time, as a share of its rating: duration in milliseconds, then the share."""

    id: Id
    title: Text
    over_watts: Amount = 0.0
    plug: Id | None = None
    points: Annotated[tuple[tuple[Amount, Amount], ...], Field(min_length=1)]
    source: Text


class Efficiency(Record):
    """The least efficiency of a published class at a mains voltage: points of load and efficiency, both in percent."""

    id: Id
    grade: Id
    volts: Literal[115, 230]
    points: Annotated[tuple[tuple[Amount, Amount], ...], Field(min_length=2)]
    source: Text


class Headroom(Record):
    """The share of a supply's rating that stays free, at least and better, and the ratings that are sold."""

    id: Id
    spare: Share
    better: Share
    ratings: Annotated[tuple[int, ...], Field(min_length=1)]
    source: Text


class ModuleKind(Record):
    """A generation of memory: the contacts of its two module shapes, and how the key keeps it out of other boards."""

    id: Id
    title: Text
    dimm_pins: int
    dimm_source: Text
    sodimm_pins: int
    sodimm_source: Text
    keying: Text
    source: Text


class Fit(Record):
    """What two parts must agree on: `fact` of `part`, and `limit` of `against`.

    `how`: `same`; `among` (the limit lists what it takes); `includes` (the fact lists what it fits); `at-most` and
    `at-least` (numbers); `table` (`takes`: value of the limit -> values that it takes).
    `unless`: facts of the part with which the question does not arise.
    `wants_part` and `wants_against` say what is to be bought for the other one, `{values}` standing for the values.
    """

    id: Id
    part: Id
    against: Id
    fact: str
    limit: str
    how: Literal["same", "among", "includes", "at-most", "at-least", "table"]
    takes: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    unless: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    ask_part: Text
    ask_against: Text
    wants_part: Text
    wants_against: Text
    because: Text
    source: Text

    @model_validator(mode="after")
    def _table(self) -> "Fit":
        if (self.how == "table") != bool(self.takes):
            raise ValueError("takes belongs to how = 'table'")
        return self


class Coupling(Record):
    """Parts that stand or fall together: if one of `replacing` goes, all of `parts` go with it.

    It holds where one of `findings` is present, or always if there are none. `unless_spare`: with this one at hand
    the part can be replaced alone.
    """

    id: Id
    findings: tuple[Id, ...] = ()
    replacing: Annotated[tuple[Id, ...], Field(min_length=1)]
    parts: Annotated[tuple[Id, ...], Field(min_length=2)]
    unless_spare: Id | None = None
    because: Text
    source: Text


class Refusal(Record):
    """A trial that is not made where one of `findings` is present, and why: it would tell nothing, or do harm."""

    id: Id
    title: Text
    findings: Annotated[tuple[Id, ...], Field(min_length=1)]
    parts: Annotated[tuple[Id, ...], Field(min_length=1)]
    because: Text
    source: Text


class Price(Record):
    """A line of the shop's price list: a part (or `labour`, an hour of it), what it costs, and the minutes to fit it.

    `watts`: the rating of a supply. `hunted`: to be searched for and not on the shelf, such as a maker's own supply.
    `back`: what comes back for it if it turns out not to help. No currency: the shop has one.
    """

    id: Id
    part: Id
    title: Text
    money: Amount
    minutes: Annotated[int, Field(ge=0)] = 0
    watts: Amount | None = None
    hunted: bool = False
    back: Amount = 0.0

    @model_validator(mode="after")
    def _no_gain(self) -> "Price":
        if self.back > self.money:
            raise ValueError("back: more comes back than it costs")
        return self


class Verification(Record):
    """Something to see for oneself before the machine goes home; `plain` is what it shows, in words for the owner.

    It is due always, or where one of `parts` was touched, or one of `findings` is present. `limits` judge its readings.
    """

    id: Id
    title: Text
    plain: Text
    how: Text
    good: Text
    parts: tuple[Id, ...] = ()
    findings: tuple[Id, ...] = ()
    limits: tuple[Id, ...] = ()
    source: Text


class FitRecords(Record):
    """The part of the base that is about power, fit and repair, in the order of the files."""

    build_parts: tuple[BuildPart, ...] = ()
    loads: tuple[Load, ...] = ()
    connectors: tuple[Connector, ...] = ()
    slots: tuple[Slot, ...] = ()
    excursions: tuple[Excursion, ...] = ()
    efficiencies: tuple[Efficiency, ...] = ()
    headrooms: tuple[Headroom, ...] = ()
    module_kinds: tuple[ModuleKind, ...] = ()
    fits: tuple[Fit, ...] = ()
    couplings: tuple[Coupling, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    prices: tuple[Price, ...] = ()
    verifications: tuple[Verification, ...] = ()


# Table name in the files -> (field of the base, record).
FIT_SECTIONS: dict[str, tuple[str, type[Record]]] = {
    "build-part": ("build_parts", BuildPart),
    "load": ("loads", Load),
    "connector": ("connectors", Connector),
    "slot": ("slots", Slot),
    "excursion": ("excursions", Excursion),
    "efficiency": ("efficiencies", Efficiency),
    "headroom": ("headrooms", Headroom),
    "module-kind": ("module_kinds", ModuleKind),
    "fit": ("fits", Fit),
    "coupling": ("couplings", Coupling),
    "refusal": ("refusals", Refusal),
    "price": ("prices", Price),
    "verification": ("verifications", Verification),
}
