today-title = Heute
today-question = Wer ist als Nächstes dran, welche Zusage reißt zuerst?
today-open = { $count ->
    [one] 1 offener Auftrag
   *[other] { $count } offene Aufträge
}
today-over = { $count ->
    [0] keine Zusage überschritten
    [one] 1 über der Zusage
   *[other] { $count } über der Zusage
}
today-cut = Gezeigt werden die { $shown } dringendsten von { $all }; wählen Sie eine Niederlassung oder Suchwörter, um die anderen zu sehen.
today-branch = Niederlassung
today-every-branch = alle Niederlassungen
today-words = Küche, Gerät, Person
today-filter = Zeigen
today-all = Alle zeigen
today-none = Nichts ist offen. Der nächste Anruf beginnt mit „Anruf annehmen“.
today-none-found = Nichts Offenes passt. Lassen Sie alle zeigen, oder suchen Sie nach Abgeschlossenem.
today-stopped = Gesperrt: diese Geräte darf niemand benutzen
today-stopped-since = gesperrt seit { $span }
today-stopped-no-order = Dazu ist kein Auftrag offen: niemand ist unterwegs, um es sicher zu machen.
today-we = Wir sind dran ({ $count })
today-customer = Ein Kunde ist dran ({ $count })
today-supplier = Ein Lieferant ist dran ({ $count })
today-on-site = Vor Ort oder unterwegs ({ $count })
today-planned = Geplant ({ $count })
column-order = Auftrag
column-what = Worum es geht und wie es steht
column-promise = Zusage
column-next = Was als Nächstes kommt

promise-none = keine Zusage
promise-left = noch { $left }
promise-paused = ruht, noch { $left }
promise-over = { $left } darüber
promise-kept = gehalten: nach { $run } vor Ort
promise-broken = gerissen: erst nach { $run } vor Ort

stands-on-site = { $people } vor Ort seit { $at }
stands-on-the-way = { $people } unterwegs seit { $at }
stands-due = { $people } war für { $at } geplant und ist nicht da
stands-planned = { $people } kommt { $at }
stands-quote = Angebot { $number } über { $total } { $currency } seit { $span } ohne Antwort
stands-part-promised = Teil zugesagt für { $day }, gewartet seit { $span }
stands-wait = { $reason } seit { $span }
stands-state = { $state }, Anruf vor { $span }

next-send-somebody = Jemanden schicken
next-assess = Anruf beurteilen
next-book-visit = Einsatz planen
next-ask-about-visit = Nachfragen, wo sie bleiben
next-find-second-person = Zweite Person finden
next-decide-waiver = Über die Ausnahme entscheiden
next-make-quote = Angebot machen
next-ring-about-quote = Wegen des Angebots anrufen
next-ring-about-access = Wegen des Zugangs anrufen
next-ring-back = Zurückrufen
next-order-parts = Teile bestellen
next-ask-supplier = Beim Lieferanten nachfragen
next-await-arrival = Einsatz ansehen
next-await-visit = Einsatz ansehen
next-report-repaired = Auftrag ansehen
next-prove = Nachweisen
next-close = Abschließen

stands-ring-back = zurückrufen { $at }
