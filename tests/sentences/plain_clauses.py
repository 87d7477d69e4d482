"""Clauses that plainly order a setting now, as prescribers of neurocritical care write them.

`{a|b}` is one of several wordings, the last of which may be empty. `<path>` is a value of that
setting, `<path=words>` one that stands as these words; `<?path>` and `<?path=words>` may be read or
left. `<pause>` is a range from the lower limit to the upper, `<pause=words>` one with these words
between them. Written without a look at the patterns.
"""

from __future__ import annotations

PLAIN = {
    "irrigation": (
        "{Irrigate|irrigate} at <irrigation.rate>",
        "Irrigation{ rate|}{:| -| =|} <irrigation.rate>",
        "Irrigation {rate |}at <irrigation.rate>",
        "{Start|Run|Continue|Set|Begin|Commence} irrigation at <irrigation.rate>",
        "{Set|Increase|Reduce|Change} {the |}irrigation rate to <irrigation.rate>",
        "Irrigation @ <irrigation.rate>",
        "Irrigate with <irrigation.fluid> {at|@} <irrigation.rate>",
        "{Start|Run|Continue} <irrigation.fluid> irrigation at <irrigation.rate>",
        "Irrigation: <irrigation.fluid> {at |@ |}<irrigation.rate>",
        "<irrigation.fluid> irrigation {at|@} <irrigation.rate>",
        "Ventricular irrigation at <irrigation.rate>",
        "Run irrigation fluid at <irrigation.rate>",
    ),
    "fluid": (
        "Irrigation {fluid|solution}{:| -| is|} <irrigation.fluid>",
        "Irrigate with <irrigation.fluid>",
        "Use <irrigation.fluid> for irrigation",
        "Irrigant: <irrigation.fluid>",
        "Fluid{:|} <?irrigation.fluid>",
        "{Additive: |Additives: |Additive }<irrigation.additive=none>",
        "<?irrigation.additive=No> additives",
    ),
    "treat": (
        "Treat above{:|} <treat_above>",
        "Treat-above {level|threshold|}{:| is|} <treat_above>",
        "Treat {when|if} ICP {>|above} <treat_above>",
        "Set {the |}treat{-| }above level to <treat_above>",
        "Treatment {level|threshold}{:|} <?treat_above>",
        "Treat ICP {above|>} <?treat_above>",
    ),
    "pause": (
        "Pause limits{:|} <pause>",
        "{Set |}pause limits {of |}<pause>",
        "Pause {irrigation |}outside <pause>",
        "Pause {irrigation |}{if ICP falls below|when ICP <|for ICP <|if ICP <|if ICP is below} "
        "<pause.lower>",
        "Pause {irrigation |}{if ICP exceeds|when ICP >|for ICP >|if ICP >|if ICP is above} "
        "<pause.upper>",
        "{Lower|Low} pause {limit|level|threshold}{:| is|} <pause.lower>",
        "{Upper|High} pause {limit|level|threshold}{:| is|} <pause.upper>",
        "Pause {irrigation |}below <pause= and above >",
        "Pause above <pause.upper>",
        "Pause below <pause.lower>",
        "Pause limits{:|} lower <pause.lower> upper <pause.upper>",
    ),
    "height": (
        "EVD {at|@} <drainage.height>",
        "EVD {at|@} <drainage.height> above <drainage.landmark>",
        "EVD {at|@} <drainage.height> above the <drainage.landmark>",
        "{Set|Keep|Place|Leave|Hang} {the |}{EVD|drain} at <drainage.height>",
        "{Set|Keep|Place|Hang} {the |}{EVD|drain} {at |}<drainage.height> above "
        "{the |}<drainage.landmark>",
        "EVD open {at|@} <drainage.height>",
        "EVD open at <drainage.height> above {the |}<drainage.landmark>",
        "{Keep|Leave} EVD open at <drainage.height>",
        "{Drain|EVD} height{:| at| is|} <drainage.height>",
        "{Drain|EVD} height{:|} <drainage.height> above {the |}<drainage.landmark>",
        "{Raise|Lower|Change} {the |}{EVD|drain} to <drainage.height>",
        "{Raise|Lower} EVD to <drainage.height> above {the |}<drainage.landmark>",
        "EVD level{:|} <drainage.height>",
        "EVD set {at|to} <?drainage.height>",
        "Drip chamber {at |}<drainage.height> above {the |}<drainage.landmark>",
        "EVD <drainage.height> above {the |}<drainage.landmark>",
        "EVD to <?drainage.height>",
    ),
    "landmark": (
        "{Level|Zero} {EVD |drain |}{at|to} {the |}<drainage.landmark>",
        "{Zero |}landmark{:| is|} <drainage.landmark>",
        "{Level|Zero} the {drain|transducer} {at|to} the <drainage.landmark>",
        "Zero {point|reference|level}: <drainage.landmark>",
        "EVD levelled {at|to} {the |}<?drainage.landmark>",
    ),
    "hourly output": (
        "{Max|Maximum} {EVD |drain |CSF |}output{:|} <drainage.hourly_max>",
        "{Max|Maximum} drainage{:| is|} <drainage.hourly_max>",
        "Hourly output limit{:| is|} <drainage.hourly_max>",
        "{EVD|Drain|CSF} output {limit|max}{:|} <drainage.hourly_max>",
        "{Limit|Restrict} {drainage|CSF drainage|EVD output|output} to <drainage.hourly_max>",
        "Drain no more than <drainage.hourly_max>",
        "Do not drain more than <drainage.hourly_max>",
        "Output not to exceed <drainage.hourly_max>",
        "<?drainage.at_hourly_max=Clamp> {EVD |drain |}if output {>|exceeds|above} "
        "<?drainage.hourly_max>",
    ),
    "bags": (
        "Irrigation bag{:| size| volume|} <irrigation.bag>",
        "{Hang|Use} <irrigation.bag> {irrigation bag|bags for irrigation}",
        "{Collection|Drainage|Drain} bag{:| size|} <drainage.bag>",
        "Change {the |}irrigation bag <irrigation.bag_change_every>",
        "Irrigation bag change{:|} <irrigation.bag_change_every>",
        "Bag change{:|} <?irrigation.bag_change_every>",
        "{Max|Maximum} irrigation {volume |}<irrigation.daily_max> "
        "{per day|in 24 h|/24 h|a day|daily}",
        "Daily irrigation {limit|max|maximum}{:|} <irrigation.daily_max>",
        "{Max|Maximum} daily irrigation{ volume|}{:|} <irrigation.daily_max>",
    ),
    "checks": (
        "ICP <monitoring.icp_every>",
        "{Record|Document|Chart|Check|Monitor} ICP <monitoring.icp_every>",
        "ICP {checks|readings|documentation} <monitoring.icp_every>",
        "Neuro {checks|obs|exam|assessment|exams}{:|} <monitoring.neuro_every>",
        "{Check|Perform} neuro{ status| exam|} <monitoring.neuro_every>",
        "{GCS and pupils|Neuro obs|Neurological checks|Neurological observations} "
        "<monitoring.neuro_every>",
        "{EVD|Drain|CSF} output{:|} <monitoring.output_every>",
        "{Record|Document|Chart} {EVD |drain |CSF |}output <monitoring.output_every>",
        "{Check|Recheck} {EVD|drain} level <monitoring.level_every>",
        "{EVD|Drain} level check{s|}{:|} <monitoring.level_every>",
        "{Re-zero|Zero} {transducer |ICP |EVD |}<monitoring.zero_every>",
        "{Zeroing|Zero transducer}: <monitoring.zero_every>",
        "{ICP alarms|Alarms|Pressure alarms} <monitoring.alarms=on>",
    ),
    "notify": (
        "{Notify|Call|Inform|Page} {<?notify.call=NCC> |<?notify.call=neurosurgery> |}"
        "{if|for|when} ICP {>|above|greater than} <notify.icp_above>",
        "{Notify|Call|Page} <?notify.call=MD> {if|for} ICP {>|above} <notify.icp_above> "
        "for {> |more than |}<notify.icp_for>",
        "{Notify|Call} if ICP {>|above} <notify.icp_above> {for|sustained} <notify.icp_for>",
        "{Notify|Call|Inform|Page} {<?notify.call=registrar> |<?notify.call=NSGY> |}"
        "{if|for} ICP {<|below|less than} <notify.icp_below>",
        "High{-| }ICP {notify level|call level|notification}{:|} <notify.icp_above>",
        "Low ICP {notify level|call level}{:|} <notify.icp_below>",
        "{Notify|Call} if {no output after|nothing drained after} <notify.no_output_after>",
        "{Notify|Call} if <notify.no_output_after> {in|irrigated} "
        "{with no output|and nothing drained}",
        "{Notify|Call} if net in {>|above} <notify.net_in.above> {in|within|over} "
        "<notify.net_in.within>",
        "{Notify|Call} if net out {>|above} <notify.net_out.above> {in|within|over} "
        "<notify.net_out.within>",
        "{Notify|Call|Tell us} within <during_pause.tell_within> of {a|any} pause",
    ),
    "position": (
        "HOB{:| at| up| elevated|} <position.head_up>",
        "{Elevate|Keep|Raise|Maintain} HOB {at |to |}<position.head_up>",
        "Head of bed{:| at| up| elevated|} <position.head_up>",
        "{Elevate|Keep|Raise} {the |}head of {the |}bed {at|to} <position.head_up>",
        "Head up <position.head_up>",
        "Nurse {head up |at |}<position.head_up>{ head up|}",
        "HOB ≥ <?position.head_up>",
    ),
    "targets": (
        "CPP {>|≥|goal >|target >|goal:|target:|above} <targets.cpp_min>",
        "{Keep|Maintain|Target|Aim} CPP {>|≥|above|at least} <targets.cpp_min>",
        "{Minimum|Min} CPP{:| is|} <targets.cpp_min>",
        "MAP {goal|target}{:| of|} <targets.map>",
        "Target MAP{:| of|} <targets.map>",
        "{Keep|Maintain} MAP at <targets.map>",
        "MAP {>|≥} <?targets.map>",
    ),
    "transport": (
        "<transport.drain=Clamp> {EVD|drain|the drain} {for|during} "
        "{transport|transfer|transports}",
        "{EVD|Drain} <transport.drain=clamped> {for|during} {transport|transfer}",
        "{Keep |}{EVD|drain|Drain} <transport.drain=open> during transport",
        "Irrigation <transport.irrigation=off> {for|during} {transport|transfer}",
        "Transport: irrigation <transport.irrigation=off>",
        "Transport: drain <transport.drain=clamped>",
        "{Max|Maximum} clamp time{:| is|} <transport.clamp_max>",
        "Clamp {for |}{no longer|no more} than <transport.clamp_max>",
        "{Clamp|Drain clamped} {for |}<transport.clamp_max> {max|maximum}{ during transport|}",
    ),
    "titration": (
        "Titrate by <titration.step> <titration.every>{ to {a |}max {of |}<titration.max>|}",
        "Titrate irrigation {by|in steps of} <titration.step> <titration.every>",
        "Titration step{:|} <titration.step>",
        "{Max|Maximum} {irrigation|titration} rate{:| is|} <titration.max>",
        "Titrat{ion|e} to {a |}max{imum|} of <titration.max>",
        "Increase {rate |irrigation |}by <titration.step> <titration.every> {to|up to} {max |}"
        "<titration.max>",
        "Titrate <titration.every>",
    ),
    "patient": (
        "{Weight|Wt|Body weight}{:| is| =|} <patient.weight>",
        "{Access|Catheter site|Catheter|EVD site}{:|} <access>",
        "<access>",
        "{Irrigate|Irrigation} via <access>",
        "Patient weighs <patient.weight>",
    ),
}

# How a clause stands in a note: before it ({n} counts the lines), and after it.
BULLETS = ("", "", "", "- ", "• ", "* ", "{n}. ", "{n}) ", "– ")
ENDS = ("", "", "", ".", ";")
SEPARATORS = ("\n", "\n", "; ", ". ", ", ", "\n\n", "\r\n")
