order-title = Order { $number }
order-model = { $model }, serial { $serial }
order-somebody = somebody
order-said-by = { $who }, { $at }; taken by { $taken_by }
order-repeats = The same machine again: order { $number } ended { $days } days before this call.
order-stop-use = Stop use: nobody may use this machine
order-inside = On this page
order-readings = Readings
order-wrong = What is wrong
order-next = Next test, and what to bring
order-done = Found and done
order-history = History
order-foretold = Foretold against read
order-not-weighed = Not weighed:
order-before = Before it is begun:
order-cautions = Cautions, before local codes and licensed practice, which prevail:
order-bring = Bring
order-nothing-done = Nothing was found or done yet.
order-ended = Ended { $at }: { $outcome }
order-stands = { $state }, { $urgency }, called { $at }
order-restored = worked again { $at }
order-doubted = A later reading, { $at }, contradicts the proof.
axis-order = Order
axis-visit = Visit
axis-machine = Machine
axis-parts = Parts
axis-money = Money
axis-waits = Waits
missing = missing:
or = { " or " }
why = why
refused-not-now = Not now: what is missing is listed below.

visit-none = No visit is booked.
visit-to-come = { $people } comes { $at }
visit-on-the-way = { $people } on the way since { $at }
visit-on-site = { $people } on site since { $at }
visit-left = { $people } left { $at }: { $result }
visit-missed = { $people } did not come, noted { $at }
visit-called-off = called off { $at }
visit-book = Book a visit
machine-unknown = Nobody knows yet which machine it is; whoever comes there confirms it.
machine-stands = { $state }
machine-release = Release it for use
parts-none = No part is noted.
parts-line = { $quantity } × { $part } ({ $place }): { $state }; { $payer }; { $price } { $currency } each
parts-line-promised = { $quantity } × { $part } ({ $place }): promised for { $day }{ $slips ->
    [0] {""}
    [one] , slipped once
   *[other] , slipped { $slips } times
}; { $payer }; { $price } { $currency } each
parts-add = Add a part
money-none = Nothing is quoted.
money-limit = { $spent } of { $limit } { $currency } that we may spend without asking
quote-make = { $count ->
    [one] Quote 1 part
   *[other] Quote { $count } parts
}
quote-stands = Quote { $number }: { $total } { $currency }, made { $at }, { $decision }
quote-open = unanswered
quote-decided = { $decision } { $at }
quote-approved = The customer approves
quote-declined = The customer declines
somebody-else = somebody else
nobody-signed = nobody available
wait-none = Waits for nothing.
wait-stands = { $reason } since { $at }, { $span }
wait-stands-paused = { $reason } since { $at }, { $span }; the promise is paused
wait-end = It waits no longer
wait-begin = Wait for something

field-restored-at = When did the machine work again?
field-why = Why?
field-symptom = Symptom
field-outcome = How does it end?
field-machine-left = In which state is the machine left?
field-signed-off-by = Who signed?
field-visit-result = What did the visit come to?
field-planned-at = When, in the kitchen's time?
field-people = Who goes?
field-overlap = If somebody is booked elsewhere then: why all the same?
field-released-as = In which state may it be used?
field-release-reason = What makes it safe, and who looked?
field-part = Which part?
field-payer = Who pays?
field-quantity = How many?
field-promised-on = Promised for
field-part-serial = Serial of the part, if it has one
field-valid-until = Valid until
field-decided-by = Who said so?
field-wait-reason = For what?
field-pauses-clock = The customer causes it: pause the promise
fault-field-needed = Something needed was left out.
fault-field-choice = Choose one of those that are offered.
fault-field-time = Give a day and a time that the clocks there show, as in 2026-04-22 14:30.
fault-field-day = Give a day, as in 2026-04-22.
fault-nobody-sent = Say who goes.
fault-quantity = Say how many, from 1 to 1000.

missing-state = the order is { $state }; this begins from { $from }
missing-ended = The order has ended and is not reopened: another follows it.
missing-symptom = at least one symptom of what the caller tells
missing-visit = a visit that is still to come
missing-arrival = somebody's arrival on site: note it on the visit
missing-appliance = which machine it is: whoever is on site confirms it
missing-under-repair = the repair: the order is { $state }; first: { $action }
missing-change-of-machine = what was done to which position
missing-action-for-part = { $count ->
    [one] what was done with the fitted part
   *[other] what was done with { $count } fitted parts
}
missing-after-readings = readings after the repair of: { $what }; or a waiver
missing-still-failing = passing readings of: { $what }; they still fail, so back to the repair
missing-symptom-remains = the end of: { $what }; it is still there, so back to the repair
missing-symptom-trial = a trial of: { $what }; or a waiver
missing-full-cycle = a full cycle that passed after the last action; or a waiver
missing-outcome-state = for "{ $outcome }" the order would have to be { $from }
missing-cancel-action = it is cancelled, not closed: use Cancel
missing-lasting-repair = a lasting repair of: { $what }; a stopgap stands there, so it ends as left running by a stopgap
missing-restored-at = when the machine worked again
missing-interlock-removal = { $count ->
    [one] the removal of an interlock defeat
   *[other] the removal of { $count } interlock defeats
}
missing-part-ends = { $count ->
    [one] an end for the part that is under way: fit it, return it or withdraw it
   *[other] an end for { $count } parts that are under way: fit, return or withdraw them
}
missing-visit-end = an end for the open visit: left, nobody came, or called off
missing-release = the release of the machine, which is unsafe; only a referral or the customer's refusal ends on an unsafe machine
missing-state-of-use = a machine that may be used: "{ $outcome }" does not end on an unsafe one
missing-parts-set-aside = { $count ->
    [one] the part set aside: a return visit is booked when all are
   *[other] { $count } parts set aside: a return visit is booked when all are
}
missing-one-visit = an end for the open visit; one at a time
missing-for-outcome = to end as "{ $outcome }": { $what }

epoch-before = before any repair
epoch-now = now
epoch-between = after action { $number }
readings-none = Nothing was read in this state of the machine.
readings-not-tested = Not tested:
scale-legend = The band is what is healthy, posts are limits, the diamond is what was read with its uncertainty, the ring what was healthy last. The column is read downwards; an arrow points past the end.
column-position = Position
column-reading = Reading
column-value = Value
column-verdict = Verdict
column-scale = Scale
column-against = Held against
whole-machine = whole machine
at-least = at least { $value }
at-most = at most { $value }
no-value = no value
verdict-keeps = keeps
verdict-degraded = degraded
verdict-fails = FAILS
verdict-fails-narrowly = FAILS, narrowly
verdict-open = open
against-limit = limit { $interval }
against-healthy = healthy { $interval }
against-n = { $healthy } (n { $n })
against-last = last healthy { $value }, { $at }
bring-nothing = With no part the next visit ends it with { $ends }.
bring-part = { $part }: needed with { $needed }; with it and those above the visit ends it with { $ends }.

done-finding = { $place }: { $finding } ({ $because }), { $evidence }, { $who }
done-action = { $place }: { $action }, { $who }
event-received = The call was taken
event-set-out = { $people } set out
event-arrived = { $people } arrived
event-left = { $people } left: { $result }
event-missed = { $people } did not come
event-called-off = The visit was called off
event-wait-began = Began: { $reason }
event-wait-ended = Ended: { $reason }
event-quoted = Quote { $number } over { $total } { $currency } was made
event-decided = The customer: { $decision }
event-stopped = Use of the machine was stopped
event-released = The machine was released: { $why }
event-restored = The machine worked again
event-ended = The order ended
