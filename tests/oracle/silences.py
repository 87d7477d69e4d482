"""Which finding is not shown beside which: “Silences beside it” of the rules' pages."""

from __future__ import annotations

_PAGES = """
additive-bag-hangs-long: bag-hangs-long

care-setting-not-read: unit-run-together

check-interval-too-long: titration-before-output-check

daily-limit-reached-early: daily-limit-reached-by-titration

display-unit-differs: pressure-units-mixed

drain-above-upper-pause: drain-above-treat-above drain-margin-small

drain-below-landmark: drain-far-below-treat-above drain-under-lower-pause

drain-height-in-cm-on-mercury: drain-above-treat-above drain-above-upper-pause
    drain-far-below-treat-above drain-height-in-cm drain-later-than-ordered drain-margin-small
    drain-scale-differs drain-under-lower-pause

flow-of-nothing: output-limit-under-expected

interval-of-nothing: net-in-limit-large net-in-limit-left-to-no-output net-in-limit-never-reached
    net-out-limit-hardly-reached titration-before-output-check titration-steps-too-close

kind-not-expected: drainage-settings-while-monitoring irrigation-settings-without-irrigation
    titration-without-irrigation

level-not-settable-when-converted: display-unit-differs pressure-units-mixed

likely-other-unit: display-unit-differs level-not-settable-when-converted
    notify-icp-over-upper-pause pressure-units-mixed upper-pause-in-normal-range
    upper-pause-over-adult-threshold upper-pause-over-child-threshold

limit-unit-unlikely: net-in-limit-large net-in-limit-left-to-no-output
    net-out-limit-hardly-reached net-out-limit-large

net-in-limit-large: net-in-limit-left-to-no-output

net-in-limit-never-reached: net-in-limit-large net-in-limit-left-to-no-output

net-out-limit-large: net-out-limit-hardly-reached

notify-levels-reversed: notify-icp-under-treat-above notify-low-icp-over-treat-above

number-too-fine: unit-run-together unit-small-l unit-spelling

output-limit-under-rate: flow-of-nothing output-limit-under-expected titration-over-output-limit

pause-limit-outside-range: lower-pause-negative notify-icp-over-upper-pause
    notify-low-icp-under-lower-pause perfusion-below-minimum-at-pause
    upper-pause-far-over-threshold upper-pause-over-adult-threshold
    upper-pause-over-child-threshold

pause-limits-reversed: drain-above-treat-above drain-above-upper-pause drain-far-below-treat-above
    drain-later-than-ordered drain-margin-small drain-under-lower-pause lower-pause-negative
    notify-icp-over-upper-pause notify-icp-under-treat-above notify-low-icp-over-treat-above
    notify-low-icp-under-lower-pause perfusion-below-minimum-at-pause treat-above-high
    treat-above-in-low-normal treat-above-negative treat-above-over-upper-pause
    treat-above-over-upper-pause-draining treat-above-under-lower-pause treating-window-narrow
    upper-pause-far-over-threshold upper-pause-in-normal-range upper-pause-over-adult-threshold
    upper-pause-over-child-threshold

perfusion-below-minimum: perfusion-below-minimum-at-pause

perfusion-target-unlikely: perfusion-target-outside-guideline

perfusion-unit-unlikely: map-target-unlikely perfusion-target-outside-guideline
    perfusion-target-unlikely

rate-outside-range: bag-empties-too-soon collection-bag-fills-between-checks
    daily-limit-reached-by-titration daily-limit-reached-early flow-of-nothing
    irrigation-rate-high net-in-limit-large net-in-limit-left-to-no-output
    net-in-limit-never-reached output-limit-far-over-expected output-limit-under-expected
    output-limit-under-rate rate-not-settable titration-maximum-under-rate
    titration-over-output-limit titration-step-over-range

titration-maximum-under-rate: titration-step-over-range

titration-over-capability: output-limit-under-expected titration-maximum-under-rate
    titration-over-output-limit titration-step-over-range

titration-over-output-limit: output-limit-under-expected

titration-step-large: titration-step-over-range

titration-steps-too-close: titration-before-output-check

trailing-zero: bag-empties-too-soon bag-not-stocked

treat-above-in-low-normal: drain-margin-small drain-under-lower-pause

treat-above-negative: drain-margin-small drain-under-lower-pause treat-above-in-low-normal

treat-above-outside-range: drain-above-treat-above drain-far-below-treat-above
    drain-later-than-ordered drain-margin-small drain-under-lower-pause
    notify-icp-under-treat-above notify-low-icp-over-treat-above treat-above-high
    treat-above-in-low-normal treat-above-negative treat-above-over-upper-pause
    treat-above-over-upper-pause-draining treat-above-under-lower-pause treating-window-narrow

treat-above-over-upper-pause: drain-far-below-treat-above notify-icp-under-treat-above
    treat-above-high treating-window-narrow

treat-above-over-upper-pause-draining: drain-far-below-treat-above drain-later-than-ordered

treat-above-under-lower-pause: drain-above-treat-above drain-later-than-ordered drain-margin-small
    drain-under-lower-pause notify-low-icp-over-treat-above treat-above-in-low-normal
    treat-above-negative

unit-not-known: unit-run-together

unit-of-wrong-kind: unit-run-together unit-small-l unit-spelling

unit-small-l: unit-run-together

unit-spelling: unit-run-together

upper-pause-far-over-threshold: upper-pause-over-adult-threshold

value-not-conceivable: unit-run-together unit-small-l unit-spelling

volume-of-nothing: bag-empties-too-soon bag-not-stocked collection-bag-fills-between-checks
    daily-limit-reached-by-titration daily-limit-reached-early
"""

SILENCES = {
    rule: silenced.split()
    for rule, _, silenced in (row.partition(":") for row in _PAGES.strip().split("\n\n"))
}
