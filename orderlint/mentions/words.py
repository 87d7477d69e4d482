"""The words that are looked for in a free text: the one table of them.

In lower case. Words of a phrase are parted by one blank; the text may have a hyphen there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from orderlint.mentions.number_words import listed_set, listed_words

if TYPE_CHECKING:
    from collections.abc import Mapping


class NumberSubject(NamedTuple):
    """What a number can be of: the words for it, and by dimension the settings that it can mean.

    The first dimension is that of a number without a unit. A number that `sets` and whose settings
    are all left out is asked about.
    """

    words: tuple[str, ...]
    paths: Mapping[str, tuple[str, ...]]
    sets: bool = False


class Act(NamedTuple):
    """Something to be done: the verbs for it, and the objects of which one must stand beside them.

    It is asked about if `asks`. A negated one is ignored if it is `negatable`, else asked about:
    what is not to be opened stays shut. Where it is `far`, any words may stand before its object.
    """

    verbs: tuple[str, ...]
    objects: tuple[str, ...] = ()
    asks: bool = True
    negatable: bool = True
    far: bool = False


_LEVELS = ("pause.lower", "pause.upper", "treat_above", "notify.icp_above", "notify.icp_below")
RATE, RUNNING, TREAT_BELOW, ICP = "rate", "running", "treat below a level", "ICP"
_RATES = ("irrigation.rate", "titration.step", "titration.max")
OF_DRAIN = listed_words("drain, drains, evd, evds, ventriculostomy, chamber, drip chamber")

SUBJECTS: Mapping[str, NumberSubject] = {
    "drain": NumberSubject(
        (
            *OF_DRAIN,
            *listed_words("burette, height, drain height, tragus, eam, eac, auditory meatus"),
            *listed_words("auditory canal, foramen of monro"),
        ),
        {"pressure": ("drainage.height",), "flow": ("drainage.hourly_max",), "volume": ()},
        sets=True,
    ),
    RATE: NumberSubject(
        listed_words(
            "rate, irrigation rate, flow, flow rate, irrigation, infusion, pump, titration"
        ),
        {"flow": _RATES, "pressure": _LEVELS, "volume": ()},
        sets=True,
    ),
    RUNNING: NumberSubject(
        listed_words(
            "run, runs, running, irrigate, irrigates, irrigating, infuse, infuses, infusing"
        ),
        {"flow": ("irrigation.rate",), "pressure": _LEVELS, "volume": ()},
        sets=True,
    ),
    "output": NumberSubject(
        listed_words("output, outputs, outflow, drainage, drained"),
        {"flow": ("drainage.hourly_max",), "volume": ()},
    ),
    ICP: NumberSubject(
        listed_words("icp, icps, pressure, pressures, intracranial pressure"),
        {"pressure": (*_LEVELS, "drainage.height")},
    ),
    "treat-above level": NumberSubject(
        listed_words("treat above, treat above level"), {"pressure": ("treat_above",)}, sets=True
    ),
    TREAT_BELOW: NumberSubject(
        listed_words("treat below, treat under"), {"pressure": ("treat_above",)}, sets=True
    ),
    "pause limit": NumberSubject(
        listed_words("pause limit, pause limits, pause"),
        {"pressure": ("pause.lower", "pause.upper")},
        sets=True,
    ),
    "upper pause limit": NumberSubject(
        listed_words("upper limit, upper pause limit, upper pause, pause above, pauses above"),
        {"pressure": ("pause.upper",)},
        sets=True,
    ),
    "lower pause limit": NumberSubject(
        listed_words("lower limit, lower pause limit, lower pause, pause below, pauses below"),
        {"pressure": ("pause.lower",)},
        sets=True,
    ),
    "CPP": NumberSubject(
        listed_words("cpp, perfusion pressure"), {"pressure": ("targets.cpp_min",)}
    ),
    "MAP": NumberSubject(
        listed_words("map, mean arterial pressure"), {"pressure": ("targets.map",)}
    ),
}

ANY = NumberSubject(
    (),
    {
        "pressure": (*_LEVELS, "drainage.height", "targets.map", "targets.cpp_min"),
        "flow": (*_RATES, "drainage.hourly_max"),
    },
    sets=True,
)
"""What a number with a unit is of where no word beside it says."""

FLOWING = listed_set(
    "urine, urine output, uop, stool, iv, iv fluids, maintenance, feed, feeds, feeding, tpn, "
    "insulin, insulin infusion, insulin rate, sedation, propofol, noradrenaline, norepinephrine, "
    "mannitol, hypertonic saline"
)
"""What a rate can be of that is no setting; one beside another, as in "if fever 180 mL/h", is ours.
"""
OTHERS = FLOWING | listed_set(
    "roller clamp, slide clamp, bp, blood pressure, sbp, dbp, systolic, systolic pressure, "
    "diastolic, cvp, peep, cuff, cuff pressure, airway pressure, venous pressure, arterial "
    "pressure, heart rate, pulse, pulse rate, rr, resp rate, respiratory rate, respirations, "
    "breathing rate, temp, temperature, fever, spo, sats, paco, pco, etco, pao, co, gcs, nihss, "
    "score, scale, pain, na, sodium, k, potassium, glucose, lactate, hb, haemoglobin, hemoglobin, "
    "platelets, inr, osmolality, ph, count, protein, head, hob, head of bed, head of the bed, "
    "bed, bed head, legs, arm, catheter, skin, tunnel, tunnelled, tunneled, burr hole, weight, "
    "age"
)
"""What a number can be of that is no setting here: the head of the bed, blood pressure, urine."""
OF_THE_NEXT = listed_set(
    "pager, bleep, ext, extension, phone, telephone, room, bay, day, pod, hour, version, "
    "revision, protocol, section, page, x, every, q"
)
"""Words that say the same of the number right after them, and of no other."""
COMPARING = listed_set("above, below, over, under, than, exceeds, least, most")
"""Words, beside the signs, after which a bare number is of the subject spoken of before."""

LIMITS = listed_set("max, maximum, most, up to, exceed")
"""Words after which what is to run can be the highest rate of a titration."""
_RISES = listed_words(
    "raise, raises, raised, raising, increase, increases, increased, increasing, titrate, "
    "titrated, titrating, adjust, adjusts, adjusted, adjusting"
)
_MOVES = listed_words(
    "lower, lowers, lowered, lowering, elevate, elevates, elevated, elevating, decrease, "
    "decreases, decreased, decreasing, reduce, reduces, reduced, reducing, wean, weaned, "
    "weaning, double, doubles, doubled, doubling, triple, tripled, halve, halves, halved, "
    "halving, slow, slows, slowed, slowing, move up, move down, moved up, moved down, turn up, "
    "turn down, turned up, turned down, drop, dropped"
)
TITRATING = listed_set("by, step, steps, titration, goal, may, can") | {*_RISES, *_MOVES, *LIMITS}
"""Words beside which a rate may be the step or the highest one of a titration."""
_OF_RATE = listed_words("rate, irrigation rate, irrigation, infusion, flow, flow rate, pump")

CLAMP, UNCLAMP, FLUSH = "clamp", "unclamp", "flush"
OPEN, CLOSE = "open the drain", "close the drain"
MOVE_DRAIN, CHANGE_RATE = "raise or lower the drain", "change the rate"
TITRATE, RUN_FREELY = "raise the rate", "run freely"
ADD, BOLUS = "add to the bag", "give a bolus"
SILENCE, OVERRIDE = "silence the alarms", "pass over a limit"

ACTS: Mapping[str, Act] = {
    CLAMP: Act(listed_words("clamp, clamped, clamping, reclamp, reclamped, occlude, occluded")),
    UNCLAMP: Act(
        listed_words("unclamp, unclamps, unclamped, unclamping"), asks=False, negatable=False
    ),
    FLUSH: Act(listed_words("flush, flushes, flushed, flushing")),
    MOVE_DRAIN: Act((*_RISES, *_MOVES), (*OF_DRAIN, "height", "drain height", "burette")),
    TITRATE: Act(_RISES, _OF_RATE),
    CHANGE_RATE: Act(_MOVES, _OF_RATE),
    CLOSE: Act(
        listed_words("close, closes, closed, closing, shut, off, turn off, turned off"),
        (*OF_DRAIN, "stopcock"),
    ),
    OPEN: Act(
        listed_words("open, opens, opened, opening"),
        (*OF_DRAIN, "stopcock"),
        asks=False,
        negatable=False,
    ),
    RUN_FREELY: Act(listed_words("wide open, fully open, free flow")),
    ADD: Act(
        listed_words(
            "add, adds, added, adding, put, mix, mixed, inject, injected, instill, instil"
        ),
        listed_words(
            "to the bag, to each bag, to every bag, to bag, in the bag, in each bag, in bag, "
            "into the bag, into each bag, per bag, to each litre, to each liter, "
            "in each litre, in each liter, per litre, per liter, "
            "to the fluid, to the irrigation fluid"
        ),
        far=True,
    ),
    SILENCE: Act(
        listed_words("turn off, turned off, switch off, silence, silenced, mute, muted, disable"),
        listed_words("alarm, alarms"),
        far=True,
    ),
    OVERRIDE: Act(
        listed_words("override, overrides, bypass, bypassed, ignore, disregard"),
        listed_words(
            "alarm, alarms, limit, limits, pause limit, pause limits, upper limit, "
            "lower limit, upper pause limit, lower pause limit"
        ),
        far=True,
    ),
    BOLUS: Act(listed_words("bolus, boluses, bolused, bolusing")),
}
STATES = listed_set("open, shut, off, turned off, turned up, turned down")
"""Verbs that follow their object though they do not end in -ed."""
OTHER_LINES = listed_set(
    "iv, ivs, peripheral, arterial, art, ng, nasogastric, chest, foley, urinary, picc, port, "
    "central, cvc, tube, tubes, feeding, peg, cannula, intravenous"
)
"""Words for what is clamped, flushed or given a bolus where none for the drain stands beside it."""
OTHER_BOLUSES = listed_set(
    "fluid, crystalloid, colloid, blood, mannitol, insulin, propofol, fentanyl, morphine, "
    "midazolam, sedation, analgesia, feed, feeds, enteral"
)
"""Words beside a bolus that goes into no ventricle."""
NOT_THE_DRAIN = listed_set("skin, facial, face, hot, cold")
"""Words after which a flush is the patient's own."""

NEGATORS = listed_set("not, never, no, without, avoid, nor, neither, cannot, dont, mustnt")
"""Words that negate the act after them; so does a word that ends in n't."""
FORBIDDEN = listed_set("forbidden, prohibited, contraindicated")
"""What is said of an act after it, without a "not", as in: flushing is forbidden."""
REFUSED = FORBIDDEN | listed_set(
    "allowed, permitted, indicated, needed, required, recommended, advised, necessary"
)
"""What is said of it with one, as in: clamping is not allowed."""
UNLESS = listed_set("unless, until, till, except, but")
"""Words after which a negated act is ordered after all, under a condition."""
BEFORE = listed_set("before, prior")
CALLING = listed_set("call, ask, notify, inform, page, tell, contact, discuss, consult, phone")
"""An act that stands after one of these and "before" is not ordered: somebody is to be called."""
IF = listed_set("if, when, for")
"""After calling and one of these stands what may happen, as in: call if the drain is clamped."""
LOW = listed_set("<, ≤, below, under")
"""Signs and words before a number that is a lower bound; the output has no setting for one."""
STAFF = listed_set(
    "neurosurgery, neurosurgeon, neurosurgical, nsgy, surgeon, surgery, attending, registrar, "
    "resident, physician, doctor, prescriber, provider, pharmacy"
)
"""Whoever "only" may do something."""

FILLERS = listed_set(
    "leave, left, keep, to, be, is, are, ever, the, a, an, any, this, his, her, its, it, "
    "routine, routinely, manual, manually, further, attempt, try, please, you, being, been, "
    "either, all, change, of, in, at, external, ventricular, line, tubing, system, level, up, "
    "down, off, collection, drain"
)
"""Words that may stand between a negation and its act, or between an act and its object."""
BEING = listed_set(
    "is, are, be, to, may, can, must, should, will, been, being, gets, remains, remain, stays, "
    "stay, kept, then, level, height, also, and"
)
"""Words that may stand between an object and what is done to it."""

TRANSPORT, OUTPUT, AFTERWARDS = "transport", "output", "after transport"
AFTER = listed_set("after, following, post")
CONTEXTS: Mapping[str, frozenset[str]] = {
    TRANSPORT: listed_set(
        "transport, transports, transported, transporting, transfer, transfers, transferred, "
        "transferring, travel, transit, trip, suction, suctioned, suctioning, ct, mri, scan, "
        "scans, imaging, turning, turned, repositioning, repositioned, moving, moved, moves, "
        "move"
    ),
    OUTPUT: listed_set("output, outputs, outflow, drainage, hourly"),
}
"""Words that say when something is done."""
SCHEDULES = listed_set(
    "night, nights, overnight, nightly, daily, morning, mornings, evening, noon, midnight, day, "
    "tomorrow, tonight, today, every, each, q, shift"
)
"""Words for another time than those: beside one of them an act is not done only then."""

AGREES: Mapping[tuple[str, str], tuple[str, str]] = {
    (TRANSPORT, CLAMP): ("transport.drain", "clamp"),
    (TRANSPORT, CLOSE): ("transport.drain", "clamp"),
    (TRANSPORT, OPEN): ("transport.drain", "open"),
    (AFTERWARDS, OPEN): ("transport.drain", "clamp"),
    (AFTERWARDS, UNCLAMP): ("transport.drain", "clamp"),
    (OUTPUT, CLAMP): ("drainage.at_hourly_max", "clamp"),
    (OUTPUT, CLOSE): ("drainage.at_hourly_max", "clamp"),
}
"""When and what is done → the setting, and the choice of it, that says the same."""
