numbers-title = Numbers

repeats-title = Who fails more than others?
repeats-kitchens = Kitchens
repeats-positions = Positions of kitchens
repeats-by = Compare
repeats-from = From
repeats-to = To
repeats-do = Show
repeats-lead = { $listed ->
    [0] { $considered ->
        [0] Too little to tell: nothing expects a failure in these days.
        [1] Too little to tell: only one expects a failure in these days.
       *[other] None of { $considered } stands out: what they had may be chance.
    }
    [1] 1 of { $considered } fails more than twice as often as the fleet, as far as can be told.
   *[other] { $listed } of { $considered } fail more than twice as often as the fleet, as far as can be told.
}
repeats-share = Of those, { $share } % are thought to fail more than twice as often.
repeats-what = { $failures ->
    [1] 1 failure
   *[other] { $failures } failures
} between { $from } and { $to }. Expected is what the other kitchens' machines of the same models had in the same time.
repeats-left-out = Left out: { $continued } that went on unrestored, { $elsewhere } of machines that stood elsewhere; { $small } that expect less than one failure.
repeats-rule = Ranked by the chance of a rate above twice the fleet's; the list ends where about one entry in twelve would be false.
repeats-column-kitchen = Kitchen
repeats-column-position = Position
repeats-column-had = Had
repeats-column-expected = Expected
repeats-column-rate = Times the fleet's rate
repeats-column-says = Says
repeats-rate = { $mean } ({ $lower } to { $upper })
repeats-fault-day = A day is written like 2026-03-31.
repeats-fault-from = The first day { $fault }.
repeats-fault-to = The last day { $fault }.

against-beyond = { $n ->
    [1] 1 failure
   *[other] { $n } failures
} in { $days } days; { $expected } expected: beyond chance (1 in { $rarity }).
against-within = { $n ->
    [0] No failure
    [1] 1 failure
   *[other] { $n } failures
} in { $days } days where { $expected } were expected: within chance.
against-too-little = { $n ->
    [0] No failure
    [1] 1 failure
   *[other] { $n } failures
} in { $days } days; { $expected } expected: too little to tell.
against-no-fleet = { $n ->
    [1] 1 failure
   *[other] { $n } failures
} in { $days } days; no other kitchen has such machines to compare with.
against-alone = { $n ->
    [1] 1 more
   *[other] { $n } more
} of machines that no other kitchen has.
against-nothing = No machine of this kitchen was watched in the last year, or such machines never failed.
against-worse = They come faster than before (1 in { $rarity } by chance).
against-better = They come more slowly than before (1 in { $rarity } by chance).
against-title = Failures beside other kitchens'
says-beyond = beyond chance (1 in { $rarity })
says-within = within chance
says-too-little = too little to tell
says-no-fleet = nobody to compare with

parts-used-title = Which parts do we use?
parts-used-count = { $count ->
    [0] No part was fitted in twelve months.
    [one] 1 part was fitted in twelve months.
   *[other] { $count } parts were fitted in twelve months.
}
parts-used-left-out = Not counted, of all times: { $unused } sent back unused, { $defective } sent back as defective, { $waiting } not fitted yet, { $withdrawn } withdrawn.
parts-used-fitted = Parts fitted
parts-used-in-all = { $count } in all
column-part = Part
column-sum = Sum
column-amount = Worth

part-life-title = How long do parts live?
part-life-position = Position
part-life-by = Compare
part-life-by-part = Part
part-life-by-position = Position
part-life-by-model = Model
part-life-by-hardness = Hardness of the water
part-life-by-nothing = All together
part-life-planned-cost = Planned exchange costs
part-life-unplanned-cost = A failure costs
part-life-of-what = Choose a position: the lives of the parts in it are shown.
part-life-none = No part has been fitted there of which it is known when.
part-life-all = All
part-life-hardness-soft = Soft water, below 1.5 mmol/L
part-life-hardness-medium = Medium water, 1.5 to 2.5 mmol/L
part-life-hardness-hard = Hard water, above 2.5 mmol/L
part-life-hardness-unknown = Water not read
part-life-seen = { $name }: { $failures } of { $n } seen to fail
part-life-half = { $name }: half have failed by { $age }; { $failures } of { $n } seen to fail.
part-life-tenth = { $name }: one in ten has failed by { $age }, fewer than half so far; { $failures } of { $n } seen to fail.
part-life-few = { $name }: { $failures } of { $n } seen to fail, fewer than one in ten at any age so far.
part-life-never = { $name }: none of { $n } has failed; on average they last { $age } days at least, if they fail by chance.
part-life-collapsed = { $name }: too few were watched young to say how long they live: all of those had failed by { $age } days; { $failures } of { $n } seen to fail.
part-life-age-between = { $days } days ({ $lower } to { $upper })
part-life-age-from = { $days } days (at least { $lower })
part-life-age-to = { $days } days (at most { $upper })
part-life-age-alone = { $days } days
part-life-not-half = not half so far
part-life-half-unknown = not known
part-life-band = Each step is a failure; the band holds the true share with 95 % confidence. Parts that still work count as long as they were watched.
part-life-chart = Share of parts still in service, by age
part-life-age = Age, days
part-life-share = Still in service, %
part-life-values = The values
part-life-percent = { $share } %
part-life-percent-between = { $share } % ({ $lower } to { $upper })
part-life-column-lives = Lives
part-life-column-failed = Failed
part-life-column-half = Half failed by
part-life-column-come = Failures come
part-life-column-replace = Replace before it fails
part-life-column-others = Against the others
part-life-wear = from wear (shape { $shape }, { $lower } to { $upper })
part-life-early = early in life (shape { $shape }, { $lower } to { $upper })
part-life-perhaps = perhaps by chance (shape { $shape }, { $lower } to { $upper })
part-life-too-few = too few to tell
part-life-no-law = too close together to tell
part-life-replace = at { $days } days: { $cost } a year instead of { $waiting } ({ $saving } % less)
part-life-replace-unseen = at { $days } days, older than any was seen: { $cost } a year instead of { $waiting } ({ $saving } % less)
part-life-no-wear = no: not shown to wear, a new one may fail as soon
part-life-not-dearer = no: a failure costs no more
part-life-no-gain = no: nothing to gain
part-life-costs-not-said = say what both cost
part-life-alike = no difference shown ({ $failures } failed, { $expected } expected)
part-life-shorter = live shorter ({ $failures } failed, { $expected } expected)
part-life-longer = live longer ({ $failures } failed, { $expected } expected)
part-life-places = After { $days } days a place has had { $mean } failures on average, since the first part of which is known when it was fitted; { $places } places, too few for limits.
part-life-places-between = After { $days } days a place has had { $mean } failures on average ({ $lower } to { $upper }), since the first part of which is known when it was fitted; { $places } places.
part-life-places-chart = Mean number of failures of a place
part-life-places-days = Days since the first part
part-life-places-failures = Failures
part-life-left-out = Left out: { $unknown } taken out of which nobody noted when they were fitted, { $unwatched } not watched in these days, { $groups } smaller groups.
part-life-definition = A part failed if it was taken out and the same work found that it had; one exchange as a precaution, or one that still works, has lived so long at least. Limits hold with 95 % confidence.
part-life-fault-to = The last day must not be earlier than the first.
part-life-fault-from = The first day must be one that has begun.
part-life-fault-position = There is no such position; choose one.
part-life-fault-part = There is no such part or model; leave it out.
part-life-fault-cost = A cost is a number above nought, like 85.50.
part-life-fault-costs = Say both costs, or neither.
part-life-fault-many = There are too many lives to look at at once; choose an earlier last day.

early-warnings-title = Which machines are on their way to failing?
early-warnings-lead = { $looked ->
    [0] No machine's readings have been looked at yet.
   *[other] { $machines ->
        [0] None of { $looked } machines drifts from its own past.
        [one] 1 of { $looked } machines drifts from its own past.
       *[other] { $machines } of { $looked } machines drift from their own past.
    }
}
early-warnings-column-machine = Machine
early-warnings-column-reading = Reading
early-warnings-column-since = Since
early-warnings-column-often = Most often there
early-warnings-column-do = Do
early-warnings-rises = rises: usually { $usual }, last { $last }
early-warnings-falls = falls: usually { $usual }, last { $last }
early-warnings-open = Order { $number } is open
early-warnings-look = Plan a look
early-warnings-look-minutes = Plan a look ({ $minutes } min)
early-warnings-mended = Left out: { $mended } mended since.
early-warnings-more = There are more machines than are listed.
early-warnings-rule = Each reading is held against those of the same machine since the last repair of its position. Where nothing changes, one reading in about { $readings } warns all the same.
measures-title = How well do we do?
measures-by = By
measures-all = All together
measures-within = Days to come back
measures-what = Orders between { $from } and { $to }, in UTC. The broken line is the same time a year before.
measures-none = None
measures-of = of { $n }
measures-no-figure = Nothing to say: there was none.
measures-no-median = Not half of them have ended.
measures-no-nine-tenths = Not nine in ten have ended.
measures-no-limit = not known
measures-minutes = { $count } min
measures-hours = { $count } h
measures-days = { $count } d
measures-interval = { $value } ({ $lower } to { $upper })
measures-share = { $value } % ({ $lower } to { $upper }), { $part } of { $whole }
measures-rate = { $value } ({ $lower } to { $upper }), { $part } visits for { $whole } orders
measures-lasting = half within { $median }, { $n } in all
measures-nine-tenths = Nine in ten within { $value }.
measures-open = { $count ->
    [1] 1 has not ended yet.
   *[other] { $count } have not ended yet.
}
measures-before = A year before: { $figure }.
measures-changed = The difference is beyond chance (1 in { $rarity }).
measures-may-be-chance = The difference may be chance.
measures-left-out = Left out: { $what }.
measures-too-few = too few to say ({ $part } of { $whole })
measures-too-few-lasting = too few to say ({ $n })
measures-immature = { $count } without their days behind them
measures-out-not-corrective = { $count } planned or installations
measures-out-cancelled = { $count } cancelled
measures-out-machine-unknown = { $count } on an unknown machine
measures-out-machine-removed = { $count } whose machine was taken out
measures-out-solved-by-phone = { $count } solved on the phone
measures-out-explained-use = { $count } that explained the use
measures-out-not-attended = { $count } nobody went to
measures-out-not-restored = { $count } that ended unrestored
measures-out-nothing-promised = { $count } without a promise
measures-out-clock-paused = { $count } the customer holds up
measures-rule = Intervals hold with 95 %: exact for shares and visits; of durations by those that ended, with open ones counted as longer. Groups under ten are not ranked.
measures-not-recorded = Not told, because nothing records it yet: what is on the vans, why parts are sent back, how repair time divides.
measures-title-mended-at-first-visit = Mended at the first visit, { $days } days
measures-title-called-again = Called again within { $days } days
measures-title-came-back = Same trouble again within { $days } days
measures-title-came-back-from-our-repair = Back because of our repair within { $days } days
measures-title-reached-as-promised = Reached as promised
measures-title-no-fault-found = No fault found
measures-title-proven-in-full = Proven in full
measures-title-returned-unused = Parts sent back unused
measures-title-fitted-not-the-cause = Parts fitted where no fault was
measures-title-visits-per-order = Visits per order
measures-title-response = From call to arrival
measures-title-restoration = From call to proven repair
measures-title-on-site = Time on site
measures-title-waiting-for-parts = Waiting for parts
measures-title-waiting-for-approval = Waiting for approval
measures-means-mended-at-first-visit = Diagnosed, repaired and verified at the first visit, nothing alike within { $days } days; of those whose first visit ended in these days and has { $days } days behind it.
measures-means-called-again = Called for again for whatever reason; of proven repairs in these days with { $days } days behind them.
measures-means-came-back = Same symptom, same position, or an order that follows the first; of proven repairs in these days with { $days } days behind them.
measures-means-came-back-from-our-repair = Somebody found an earlier repair to be the cause; of proven repairs in these days with { $days } days behind them.
measures-means-reached-as-promised = Somebody arrived within the promise, the customer's pauses left out; of those due in these days. Who is still to come has missed it.
measures-means-no-fault-found = Attended, no fault confirmed, nothing mended; of attended orders closed in these days.
measures-means-proven-in-full = No part of the proof waived; of orders closed as repaired in these days.
measures-means-returned-unused = Lines sent back unused; of lines fitted or sent back, of orders closed in these days.
measures-means-fitted-not-the-cause = Lines fitted at a position of which the order confirmed no fault; of lines fitted, of orders closed in these days.
measures-means-visits-per-order = Several at once are one visit; by attended orders closed in these days.
measures-means-response = Orders called for in these days.
measures-means-restoration = Orders called for in these days. How long the fault stood before the call is not known.
measures-means-on-site = All visits of an order together; orders restored in these days.
measures-means-waiting-for-parts = Each wait that began in these days.
measures-means-waiting-for-approval = Each wait that began in these days.
term-grouping-branch = Branch
term-grouping-model = Model
term-grouping-urgency = Urgency
term-grouping-month = Month
term-grouping-person = Person
term-grouping-repair = Repair

chains-title = What came back
chains-times = { $n } times
chains-link = { $at }: { $done }
chains-after = { $span } after the repair, { $at }: { $done }
chains-unrestored = not restored before, { $at }: { $done }
chains-nothing-done = nothing noted as done
causes-title = Causes found here
causes-counts = { $n } of { $all } here{ $machines ->
    [1] {""}
   *[other] {" "}on { $machines } machines
}; { $elsewhere } of { $others } elsewhere
causes-stands-out = stands out (1 in { $rarity } by chance)
causes-may-be-chance = within chance
causes-alone = nobody to compare with
causes-rule = Of faults whose cause is known. A cause stands out that was found twice or more, in a larger share than elsewhere, where about one entry in twelve would be false.
call-against = Beside other kitchens
as-workbook = As a workbook
as-csv = As CSV

water-title = Water
water-drawn = Drawn
water-lasted = { $treatment } lasted { $least } to { $most } days.
water-changed = { $treatment } since some day between { $after } and { $by }; { $before } before.
water-unchanged = { $treatment } in all samples, since { $since }.
water-hardness-rises = Hardness { $at } rises by { $change } mg/L as CaCO₃ a year since the treatment last changed ({ $n } samples).
water-hardness-falls = Hardness { $at } falls by { $change } mg/L as CaCO₃ a year since the treatment last changed ({ $n } samples).
water-above = { $value }: above what { $model } bears.
water-below = { $value }: below what { $model } bears.
water-rule = Langelier above 0: scale forms; below: it dissolves. Ryznar below 6: scale forms; above 7: the water attacks. At the temperature of the sample; where it gets hot, more scale forms.
term-treatment-none = no treatment
term-treatment-softener = softener
term-treatment-cartridge = cartridge
term-treatment-reverse-osmosis = reverse osmosis
term-treatment-other = another treatment
term-sample-point-before-treatment = before the treatment
term-sample-point-after-treatment = after the treatment
term-water-value-hardness = Hardness
term-water-value-conductivity = Conductivity
term-water-value-chloride = Chloride
term-water-value-ph = pH
term-water-value-langelier-index = Langelier
term-water-value-ryznar-index = Ryznar

costs-title = Repair or replace?
costs-year = Year
costs-orders = Orders
costs-hours = Hours on site
costs-parts = Part lines
costs-amount = Parts worth
costs-nothing = none
costs-no-price = Parts of the last twelve months: { $spent }. What a new one costs, nobody has said.
costs-repair = Parts of the last twelve months: { $spent }, { $share } % of a new one at { $price }: repair.
costs-look-closer = Parts of the last twelve months: { $spent }, { $share } % of a new one at { $price }: look at what comes back before the next repair.
costs-replace = Parts of the last twelve months: { $spent }, { $share } % of a new one at { $price }: talk about a new one.
costs-rule = Under a quarter of a new one: repair; above half: talk about a new one (common practice). Work is not in it, nor what a warranty pays.
costs-other-currency = Parts of the last twelve months: { $spent }, a new one { $price }. Those are several currencies, which are not added: compare them by hand.
costs-tell = What a new one costs
costs-price = Price, empty where it is not known
costs-currency = Currency
costs-fault-amount = An amount is more than nothing and written like 9800.00.
costs-fault-currency = A currency is written in three letters, like EUR.
water-lives = What hardness does to the life of parts:
part-life-hardness-shorter = { $band }: parts lived shorter than in other water; { $failures } of { $n } failed where { $expected } were expected. Beyond chance, but those kitchens may differ in more than their water.
part-life-hardness-longer = { $band }: parts lived longer than in other water; { $failures } of { $n } failed where { $expected } were expected. Beyond chance, but those kitchens may differ in more than their water.
part-life-hardness-alike = No band of hardness differs beyond chance: hardness is not shown to matter here.
part-life-hardness-few = Too few have failed to say what hardness does here.
