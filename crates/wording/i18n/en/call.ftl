call-title = Take a call
call-here = Take a call here
call-where = Where is it?
call-find = Kitchen, street, telephone, serial or order
call-other-kitchen = Another kitchen
call-refused = The order is not opened yet:
call-who = Who calls?
call-machine = Which machine?
call-dangers = Is anybody in danger?
call-use = May it be used until somebody comes?
call-use-go-on = it stays in use
call-use-stop = nobody uses it: stop use
call-use-reason = In danger and still in use? Say why
call-words = In their own words
call-complaint = What shows most
call-no-complaint = not said
call-also = What else shows
call-urgency = How soon must somebody be there?
call-limit = May spend without asking
call-currency = Currency
call-look = Look before opening
call-open = Open the order
call-beside = What is known
call-say-aloud = Say this to the caller now
call-been-before = Been before
call-never-before = Nothing on this machine in the last 90 days, or the machine is not chosen yet.
call-before = { $what }, { $span } ago
call-before-open = { $what }, called { $span } ago and still open: is it the same?
call-open-here = Open in this kitchen
call-nothing-open = Nothing.
call-likely = Likely
call-likely-needs = Choose the machine and what shows most, then look.
fault-no-words = Write down what the caller says, in his own words.
fault-no-urgency = Say how soon somebody must be there.
fault-amount = An amount is written as 250 or 250.00.
fault-currency = A currency has three letters, as in EUR.
urgency-what-danger = people at risk or the site closed: within 4 hours
urgency-what-key-unit-down = within 24 hours
urgency-what-degraded = within three days
urgency-what-planned = nothing is promised

search-title = Found
search-none = Nothing has that name, telephone, serial or number.
term-found-customer = customer
term-found-site = kitchen
term-found-contact = person
term-found-appliance = machine
term-found-work-order = order

kitchen-calls = { $count ->
    [0] No call in twelve months.
    [one] 1 call in twelve months.
   *[other] { $count } calls in twelve months.
}
kitchen-open = Open
kitchen-machines = Machines
kitchen-machine-calls = { $count ->
    [0] no call
    [one] 1 call
   *[other] { $count } calls
}
kitchen-past = Ended
kitchen-no-past = No order has ended here yet.
column-machine = Machine
column-state = State
column-year = Calls, the last twelve months

machine-installed = in place since
machine-life = How its readings go
machine-no-life = Nothing was read on it yet.
machine-parts = What is in it
machine-no-parts = No part is on record.
life-legend = All on one time axis from the first reading until now. Points are readings at reference conditions, a dashed line is a repair of that position, a triangle a signal of drift.
life-drifts = drifts since { $since }
life-few = last { $value }; too few to tell a drift (n { $n })
life-steady = steady; last { $value } (n { $n })
column-course = Course
column-says = Says
term-past-order-received = order
term-past-order-ended = order ended
term-past-visit = visit
term-past-test-run = test
term-past-finding = found
term-past-action-taken = done
term-past-part-fitted = part fitted
term-past-part-noted = part noted
term-past-machine-corrected = machine corrected
