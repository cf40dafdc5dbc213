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
column-part = Part
column-sum = Sum
column-amount = Worth
