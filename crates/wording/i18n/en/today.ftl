today-title = Today
today-question = Who must act next, which promise breaks first?
today-open = { $count ->
    [one] 1 open order
   *[other] { $count } open orders
}
today-over = { $count ->
    [0] no promise past
    [one] 1 past its promise
   *[other] { $count } past their promise
}
today-cut = The { $shown } most urgent of { $all } are shown; choose a branch or words to see the others.
today-branch = Branch
today-every-branch = every branch
today-words = Kitchen, machine, person
today-filter = Show
today-all = Show all
today-none = Nothing is open. The next call begins with "Take a call".
today-none-found = Nothing open fits. Show all, or search for what has ended.
today-stopped = Stop use: nobody may use these machines
today-stopped-since = stopped { $span } ago
today-stopped-no-order = No order is open on it: nobody is on the way to make it safe.
today-we = We must act ({ $count })
today-customer = A customer must act ({ $count })
today-supplier = A supplier must act ({ $count })
today-on-site = On site or on the way ({ $count })
today-planned = Planned ({ $count })
column-order = Order
column-what = What it is and how it stands
column-promise = Promise
column-next = What comes next

promise-none = no promise
promise-left = { $left } left
promise-paused = paused, { $left } left
promise-over = { $left } over
promise-kept = kept: came after { $run }
promise-broken = broken: came after { $run }

stands-on-site = { $people } on site since { $at }
stands-on-the-way = { $people } on the way since { $at }
stands-due = { $people } was due { $at } and has not come
stands-planned = { $people } comes { $at }
stands-quote = quote { $number } over { $total } { $currency } unanswered for { $span }
stands-part-promised = part promised for { $day }, waited for { $span }
stands-ring-back = ring back { $at }
stands-wait = { $reason } for { $span }
stands-state = { $state }, called { $span } ago

next-send-somebody = Send somebody
next-assess = Assess the call
next-book-visit = Book a visit
next-ask-about-visit = Ask where they are
next-find-second-person = Find a second person
next-decide-waiver = Decide on the waiver
next-make-quote = Make the quote
next-ring-about-quote = Ring about the quote
next-ring-about-access = Ring about access
next-ring-back = Ring back
next-order-parts = Order the parts
next-ask-supplier = Ask the supplier
next-await-arrival = See the visit
next-await-visit = See the visit
next-report-repaired = See the order
next-prove = Prove it
next-close = Close it
