numbers-title = Zahlen

repeats-title = Wer fällt öfter aus als andere?
repeats-kitchens = Küchen
repeats-positions = Stellen in Küchen
repeats-by = Vergleichen
repeats-from = Von
repeats-to = Bis
repeats-do = Zeigen
repeats-lead = { $listed ->
    [0] { $considered ->
        [0] Zu wenig, um etwas zu sagen: für diese Tage ist nirgends ein Ausfall zu erwarten.
        [1] Zu wenig, um etwas zu sagen: nur an einer Stelle ist ein Ausfall zu erwarten.
       *[other] Von { $considered } fällt keine auf: was sie hatten, kann Zufall sein.
    }
    [1] 1 von { $considered } fällt, soweit es sich sagen lässt, mehr als doppelt so oft aus wie die Flotte.
   *[other] { $listed } von { $considered } fallen, soweit es sich sagen lässt, mehr als doppelt so oft aus wie die Flotte.
}
repeats-share = Von ihnen dürften { $share } % mehr als doppelt so oft ausfallen.
repeats-what = { $failures ->
    [1] 1 Ausfall
   *[other] { $failures } Ausfälle
} zwischen { $from } und { $to }. Zu erwarten ist, was die Geräte derselben Modelle in den anderen Küchen in derselben Zeit hatten.
repeats-left-out = Nicht gezählt: { $continued }, die ohne Wiederherstellung weitergingen, { $elsewhere } an Geräten, die anderswo standen; { $small }, für die weniger als ein Ausfall zu erwarten ist.
repeats-rule = Geordnet nach der Wahrscheinlichkeit für mehr als die doppelte Rate der Flotte; die Liste endet da, wo etwa einer von zwölf Einträgen falsch wäre.
repeats-column-kitchen = Küche
repeats-column-position = Stelle
repeats-column-had = Gehabt
repeats-column-expected = Zu erwarten
repeats-column-rate = Vielfaches der Flotte
repeats-column-says = Besagt
repeats-rate = { $mean } ({ $lower } bis { $upper })
repeats-fault-day = Ein Tag wird wie 2026-03-31 geschrieben.
repeats-fault-from = Der erste Tag: { $fault }.
repeats-fault-to = Der letzte Tag: { $fault }.

against-beyond = { $n ->
    [1] 1 Ausfall
   *[other] { $n } Ausfälle
} in { $days } Tagen; { $expected } zu erwarten: mehr als Zufall (1 von { $rarity }).
against-within = { $n ->
    [0] Kein Ausfall
    [1] 1 Ausfall
   *[other] { $n } Ausfälle
} in { $days } Tagen, zu erwarten waren { $expected }: im Bereich des Zufalls.
against-too-little = { $n ->
    [0] Kein Ausfall
    [1] 1 Ausfall
   *[other] { $n } Ausfälle
} in { $days } Tagen; { $expected } zu erwarten: zu wenig, um etwas zu sagen.
against-no-fleet = { $n ->
    [1] 1 Ausfall
   *[other] { $n } Ausfälle
} in { $days } Tagen; keine andere Küche hat solche Geräte zum Vergleichen.
against-alone = { $n ->
    [1] 1 weiterer
   *[other] { $n } weitere
} an Geräten, die keine andere Küche hat.
against-nothing = Im letzten Jahr wurde kein Gerät dieser Küche beobachtet, oder solche Geräte fielen nie aus.
against-worse = Sie kommen schneller als früher (durch Zufall 1 von { $rarity }).
against-better = Sie kommen seltener als früher (durch Zufall 1 von { $rarity }).
against-title = Ausfälle im Vergleich mit anderen Küchen
says-beyond = mehr als Zufall (1 von { $rarity })
says-within = im Bereich des Zufalls
says-too-little = zu wenig, um etwas zu sagen
says-no-fleet = kein Vergleich

parts-used-title = Welche Teile verbrauchen wir?
parts-used-count = { $count ->
    [0] In zwölf Monaten wurde kein Teil eingebaut.
    [one] In zwölf Monaten wurde 1 Teil eingebaut.
   *[other] In zwölf Monaten wurden { $count } Teile eingebaut.
}
parts-used-left-out = Nicht gezählt, seit jeher: { $unused } unbenutzt zurückgegeben, { $defective } als defekt zurückgegeben, { $waiting } noch nicht eingebaut, { $withdrawn } gestrichen.
parts-used-fitted = Eingebaute Teile
parts-used-in-all = { $count } insgesamt
column-part = Teil
column-sum = Summe
column-amount = Wert

part-life-title = Wie lange leben Teile?
part-life-position = Stelle
part-life-by = Vergleiche
part-life-by-part = Teil
part-life-by-position = Stelle
part-life-by-model = Modell
part-life-by-hardness = Härte des Wassers
part-life-by-nothing = Alle zusammen
part-life-planned-cost = Geplanter Tausch kostet
part-life-unplanned-cost = Ein Ausfall kostet
part-life-of-what = Eine Stelle wählen: gezeigt wird, wie lange die Teile darin leben.
part-life-none = Dort wurde kein Teil eingebaut, von dem man weiß, wann.
part-life-all = Alle
part-life-hardness-soft = Weiches Wasser, unter 1,5 mmol/L
part-life-hardness-medium = Mittleres Wasser, 1,5 bis 2,5 mmol/L
part-life-hardness-hard = Hartes Wasser, über 2,5 mmol/L
part-life-hardness-unknown = Wasser nicht gemessen
part-life-seen = { $name }: { $failures } von { $n } fielen aus
part-life-half = { $name }: die Hälfte ist ausgefallen bis { $age }; bei { $failures } von { $n } wurde ein Ausfall gesehen.
part-life-tenth = { $name }: eines von zehn ist ausgefallen bis { $age }, bisher weniger als die Hälfte; bei { $failures } von { $n } wurde ein Ausfall gesehen.
part-life-few = { $name }: bei { $failures } von { $n } wurde ein Ausfall gesehen, in jedem Alter bisher weniger als eines von zehn.
part-life-never = { $name }: von { $n } ist keines ausgefallen; im Mittel halten sie mindestens { $age } Tage, wenn sie zufällig ausfallen.
part-life-collapsed = { $name }: zu wenige wurden jung beobachtet, um zu sagen, wie lange sie leben: alle diese waren bis { $age } Tage ausgefallen; bei { $failures } von { $n } wurde ein Ausfall gesehen.
part-life-age-between = { $days } Tage ({ $lower } bis { $upper })
part-life-age-from = { $days } Tage (mindestens { $lower })
part-life-age-to = { $days } Tage (höchstens { $upper })
part-life-age-alone = { $days } Tage
part-life-not-half = bisher nicht die Hälfte
part-life-half-unknown = nicht bekannt
part-life-band = Jede Stufe ist ein Ausfall; das Band enthält den wahren Anteil mit 95 % Sicherheit. Teile, die noch arbeiten, zählen so lange, wie sie beobachtet wurden.
part-life-chart = Anteil der Teile, die noch im Dienst sind, nach Alter
part-life-age = Alter, Tage
part-life-share = Noch im Dienst, %
part-life-values = Die Werte
part-life-percent = { $share } %
part-life-percent-between = { $share } % ({ $lower } bis { $upper })
part-life-column-lives = Leben
part-life-column-failed = Ausgefallen
part-life-column-half = Hälfte ausgefallen bis
part-life-column-come = Ausfälle kommen
part-life-column-replace = Tauschen, bevor es ausfällt
part-life-column-others = Gegen die anderen
part-life-wear = durch Verschleiß (Form { $shape }, { $lower } bis { $upper })
part-life-early = früh im Leben (Form { $shape }, { $lower } bis { $upper })
part-life-perhaps = vielleicht durch Zufall (Form { $shape }, { $lower } bis { $upper })
part-life-too-few = zu wenige, um es zu sagen
part-life-no-law = zu nahe beisammen, um es zu sagen
part-life-replace = mit { $days } Tagen: { $cost } im Jahr statt { $waiting } ({ $saving } % weniger)
part-life-replace-unseen = mit { $days } Tagen, älter, als eines gesehen wurde: { $cost } im Jahr statt { $waiting } ({ $saving } % weniger)
part-life-no-wear = nein: kein Verschleiß gezeigt, ein neues kann ebenso bald ausfallen
part-life-not-dearer = nein: ein Ausfall kostet nicht mehr
part-life-no-gain = nein: nichts zu gewinnen
part-life-costs-not-said = sagen, was beides kostet
part-life-alike = kein Unterschied gezeigt ({ $failures } ausgefallen, { $expected } erwartet)
part-life-shorter = leben kürzer ({ $failures } ausgefallen, { $expected } erwartet)
part-life-longer = leben länger ({ $failures } ausgefallen, { $expected } erwartet)
part-life-places = Nach { $days } Tagen hatte eine Stelle im Mittel { $mean } Ausfälle, seit dem ersten Teil, von dem man weiß, wann es eingebaut wurde; { $places } Stellen, zu wenige für Grenzen.
part-life-places-between = Nach { $days } Tagen hatte eine Stelle im Mittel { $mean } Ausfälle ({ $lower } bis { $upper }), seit dem ersten Teil, von dem man weiß, wann es eingebaut wurde; { $places } Stellen.
part-life-places-chart = Mittlere Zahl der Ausfälle einer Stelle
part-life-places-days = Tage seit dem ersten Teil
part-life-places-failures = Ausfälle
part-life-left-out = Nicht gezählt: { $unknown } ausgebaute, von denen niemand notiert hat, wann sie eingebaut wurden, { $unwatched } in diesen Tagen nicht beobachtete, { $groups } kleinere Gruppen.
part-life-definition = Ein Teil ist ausgefallen, wenn es ausgebaut wurde und dieselbe Arbeit befand, dass es ausgefallen war; ein vorsorglich getauschtes oder eines, das noch arbeitet, hat mindestens so lange gelebt. Grenzen gelten mit 95 % Sicherheit.
part-life-fault-to = Der letzte Tag darf nicht vor dem ersten liegen.
part-life-fault-from = Der erste Tag muss einer sein, der begonnen hat.
part-life-fault-position = Diese Stelle gibt es nicht; eine wählen.
part-life-fault-part = Dieses Teil oder Modell gibt es nicht; weglassen.
part-life-fault-cost = Kosten sind eine Zahl über null, wie 85,50.
part-life-fault-costs = Beide Kosten sagen, oder keine.
part-life-fault-many = Das sind zu viele Leben auf einmal; einen früheren letzten Tag wählen.

early-warnings-title = Welche Maschinen sind auf dem Weg zum Ausfall?
early-warnings-lead = { $looked ->
    [0] Die Messwerte von keiner Maschine wurden bisher angesehen.
   *[other] { $machines ->
        [0] Von { $looked } Maschinen weicht keine von ihrer eigenen Vergangenheit ab.
        [one] 1 von { $looked } Maschinen weicht von ihrer eigenen Vergangenheit ab.
       *[other] { $machines } von { $looked } Maschinen weichen von ihrer eigenen Vergangenheit ab.
    }
}
early-warnings-column-machine = Maschine
early-warnings-column-reading = Messwert
early-warnings-column-since = Seit
early-warnings-column-often = Dort am häufigsten
early-warnings-column-do = Tun
early-warnings-rises = steigt: sonst { $usual }, zuletzt { $last }
early-warnings-falls = fällt: sonst { $usual }, zuletzt { $last }
early-warnings-open = Auftrag { $number } ist offen
early-warnings-look = Nachsehen planen
early-warnings-look-minutes = Nachsehen planen ({ $minutes } min)
early-warnings-mended = Nicht gezählt: { $mended } seither behoben.
early-warnings-more = Es gibt mehr Maschinen, als hier stehen.
early-warnings-rule = Jeder Messwert wird gegen die derselben Maschine seit der letzten Reparatur seiner Stelle gehalten. Wo sich nichts ändert, warnt trotzdem etwa einer von { $readings }.
measures-title = Wie gut machen wir es?
measures-by = Nach
measures-all = Alle zusammen
measures-within = Tage zum Wiederkommen
measures-what = Aufträge zwischen { $from } und { $to }, in UTC. Die unterbrochene Linie ist dieselbe Zeit ein Jahr davor.
measures-none = Ohne
measures-of = von { $n }
measures-no-figure = Nichts zu sagen: es gab keine.
measures-no-median = Nicht die Hälfte ist beendet.
measures-no-nine-tenths = Nicht neun von zehn sind beendet.
measures-no-limit = unbekannt
measures-minutes = { $count } min
measures-hours = { $count } h
measures-days = { $count } d
measures-interval = { $value } ({ $lower } bis { $upper })
measures-share = { $value } % ({ $lower } bis { $upper }), { $part } von { $whole }
measures-rate = { $value } ({ $lower } bis { $upper }), { $part } Besuche bei { $whole } Aufträgen
measures-lasting = die Hälfte binnen { $median }, insgesamt { $n }
measures-nine-tenths = Neun von zehn binnen { $value }.
measures-open = { $count ->
    [1] 1 ist noch nicht beendet.
   *[other] { $count } sind noch nicht beendet.
}
measures-before = Ein Jahr davor: { $figure }.
measures-changed = Der Unterschied ist mehr als Zufall (1 von { $rarity }).
measures-may-be-chance = Der Unterschied kann Zufall sein.
measures-left-out = Nicht gezählt: { $what }.
measures-too-few = zu wenige, um etwas zu sagen ({ $part } von { $whole })
measures-too-few-lasting = zu wenige, um etwas zu sagen ({ $n })
measures-immature = { $count }, deren Tage noch nicht um sind
measures-out-not-corrective = { $count } geplante oder Aufstellungen
measures-out-cancelled = { $count } abgesagte
measures-out-machine-unknown = { $count } an unbekanntem Gerät
measures-out-machine-removed = { $count }, deren Gerät entfernt wurde
measures-out-solved-by-phone = { $count } am Telefon gelöste
measures-out-explained-use = { $count }, die den Gebrauch erklärten
measures-out-not-attended = { $count }, zu denen niemand fuhr
measures-out-not-restored = { $count }, die ohne Wiederherstellung endeten
measures-out-nothing-promised = { $count } ohne Zusage
measures-out-clock-paused = { $count }, die der Kunde aufhält
measures-rule = Die Grenzen halten mit 95 %: genau bei Anteilen und Besuchen; bei Dauern nach denen, die beendet sind, offene zählen als länger. Gruppen unter zehn werden nicht gereiht.
measures-not-recorded = Nicht gesagt, weil es noch niemand festhält: was auf den Wagen liegt, warum Teile zurückgehen, wie sich die Reparaturzeit aufteilt.
measures-title-mended-at-first-visit = Beim ersten Besuch behoben, { $days } Tage
measures-title-called-again = Wieder gerufen binnen { $days } Tagen
measures-title-came-back = Dasselbe wieder binnen { $days } Tagen
measures-title-came-back-from-our-repair = Zurück wegen unserer Reparatur binnen { $days } Tagen
measures-title-reached-as-promised = Rechtzeitig da
measures-title-no-fault-found = Kein Fehler gefunden
measures-title-proven-in-full = Voll nachgewiesen
measures-title-returned-unused = Teile unbenutzt zurück
measures-title-fitted-not-the-cause = Teile, wo kein Fehler war
measures-title-visits-per-order = Besuche je Auftrag
measures-title-response = Vom Anruf bis zur Ankunft
measures-title-restoration = Vom Anruf bis zur nachgewiesenen Reparatur
measures-title-on-site = Zeit vor Ort
measures-title-waiting-for-parts = Warten auf Teile
measures-title-waiting-for-approval = Warten auf Freigabe
measures-means-mended-at-first-visit = Beim ersten Besuch erkannt, behoben und nachgewiesen, nichts Gleiches binnen { $days } Tagen; von denen, deren erster Besuch in diesen Tagen endete und { $days } Tage her ist.
measures-means-called-again = Wieder gerufen, warum auch immer; von nachgewiesenen Reparaturen dieser Tage, die { $days } Tage her sind.
measures-means-came-back = Gleiches Anzeichen, gleiche Stelle oder ein Folgeauftrag; von nachgewiesenen Reparaturen dieser Tage, die { $days } Tage her sind.
measures-means-came-back-from-our-repair = Jemand fand eine frühere Reparatur als Ursache; von nachgewiesenen Reparaturen dieser Tage, die { $days } Tage her sind.
measures-means-reached-as-promised = Jemand kam binnen der Zusage, Pausen des Kunden nicht gezählt; von denen, die in diesen Tagen fällig waren. Wer noch kommen muss, ist zu spät.
measures-means-no-fault-found = Besucht, kein Fehler bestätigt, nichts behoben; von besuchten Aufträgen, die in diesen Tagen endeten.
measures-means-proven-in-full = Kein Teil des Nachweises erlassen; von Aufträgen, die in diesen Tagen als repariert endeten.
measures-means-returned-unused = Unbenutzt zurückgegebene Posten; von eingebauten und zurückgegebenen, in Aufträgen, die in diesen Tagen endeten.
measures-means-fitted-not-the-cause = Posten an einer Stelle, an der der Auftrag keinen Fehler bestätigte; von eingebauten, in Aufträgen, die in diesen Tagen endeten.
measures-means-visits-per-order = Mehrere zugleich sind ein Besuch; auf besuchte Aufträge, die in diesen Tagen endeten.
measures-means-response = Aufträge, die in diesen Tagen gerufen wurden.
measures-means-restoration = Aufträge, die in diesen Tagen gerufen wurden. Wie lange der Fehler vor dem Anruf bestand, ist nicht bekannt.
measures-means-on-site = Alle Besuche eines Auftrags zusammen; Aufträge, die in diesen Tagen wiederhergestellt wurden.
measures-means-waiting-for-parts = Jedes Warten, das in diesen Tagen begann.
measures-means-waiting-for-approval = Jedes Warten, das in diesen Tagen begann.
term-grouping-branch = Niederlassung
term-grouping-model = Modell
term-grouping-urgency = Dringlichkeit
term-grouping-month = Monat
term-grouping-person = Person
term-grouping-repair = Reparatur

chains-title = Was wiederkam
chains-times = { $n }-mal
chains-link = { $at }: { $done }
chains-after = { $span } nach der Reparatur, { $at }: { $done }
chains-unrestored = davor nicht wiederhergestellt, { $at }: { $done }
chains-nothing-done = nichts als getan vermerkt
causes-title = Ursachen, die hier gefunden wurden
causes-counts = { $n } von { $all } hier{ $machines ->
    [1] {""}
   *[other] {" "}an { $machines } Geräten
}; { $elsewhere } von { $others } anderswo
causes-stands-out = fällt auf (durch Zufall 1 von { $rarity })
causes-may-be-chance = im Bereich des Zufalls
causes-alone = kein Vergleich
causes-rule = Von Fehlern mit bekannter Ursache. Eine Ursache fällt auf, die zweimal oder öfter gefunden wurde, in größerem Anteil als anderswo, wo etwa einer von zwölf Einträgen falsch wäre.
call-against = Im Vergleich mit anderen Küchen
as-workbook = Als Arbeitsmappe
as-csv = Als CSV

water-title = Wasser
water-drawn = Entnommen
water-lasted = { $treatment } hielt { $least } bis { $most } Tage.
water-changed = { $treatment } seit einem Tag zwischen { $after } und { $by }; davor { $before }.
water-unchanged = { $treatment } in allen Proben, seit { $since }.
water-hardness-rises = Die Härte { $at } steigt um { $change } mg/L CaCO₃ im Jahr, seit die Aufbereitung zuletzt wechselte ({ $n } Proben).
water-hardness-falls = Die Härte { $at } fällt um { $change } mg/L CaCO₃ im Jahr, seit die Aufbereitung zuletzt wechselte ({ $n } Proben).
water-above = { $value }: mehr, als { $model } verträgt.
water-below = { $value }: weniger, als { $model } verträgt.
water-rule = Langelier über 0: Kalk fällt aus; darunter löst er sich. Ryznar unter 6: Kalk fällt aus; über 7 greift das Wasser an. Bei der Temperatur der Probe; wo es heiß wird, fällt mehr aus.
term-treatment-none = keine Aufbereitung
term-treatment-softener = Enthärter
term-treatment-cartridge = Filterpatrone
term-treatment-reverse-osmosis = Umkehrosmose
term-treatment-other = andere Aufbereitung
term-sample-point-before-treatment = vor der Aufbereitung
term-sample-point-after-treatment = nach der Aufbereitung
term-water-value-hardness = Härte
term-water-value-conductivity = Leitfähigkeit
term-water-value-chloride = Chlorid
term-water-value-ph = pH
term-water-value-langelier-index = Langelier
term-water-value-ryznar-index = Ryznar

costs-title = Reparieren oder ersetzen?
costs-year = Jahr
costs-orders = Aufträge
costs-hours = Stunden vor Ort
costs-parts = Teileposten
costs-amount = Teile im Wert
costs-nothing = keine
costs-no-price = Teile der letzten zwölf Monate: { $spent }. Was ein neues kostet, hat noch niemand gesagt.
costs-repair = Teile der letzten zwölf Monate: { $spent }, { $share } % eines neuen zu { $price }: reparieren.
costs-look-closer = Teile der letzten zwölf Monate: { $spent }, { $share } % eines neuen zu { $price }: vor der nächsten Reparatur ansehen, was wiederkommt.
costs-replace = Teile der letzten zwölf Monate: { $spent }, { $share } % eines neuen zu { $price }: über ein neues sprechen.
costs-rule = Unter einem Viertel eines neuen: reparieren; über der Hälfte: über ein neues sprechen (übliche Praxis). Arbeit ist nicht darin, auch nicht, was eine Garantie bezahlt.
costs-other-currency = Teile der letzten zwölf Monate: { $spent }, ein neues { $price }. Das sind mehrere Währungen, die nicht addiert werden: von Hand vergleichen.
costs-tell = Was ein neues kostet
costs-price = Preis, leer, wo er nicht bekannt ist
costs-currency = Währung
costs-fault-amount = Ein Betrag ist mehr als nichts und wird wie 9800,00 geschrieben.
costs-fault-currency = Eine Währung wird mit drei Buchstaben geschrieben, wie EUR.
water-lives = Was die Härte mit dem Leben der Teile macht:
part-life-hardness-shorter = { $band }: Teile lebten kürzer als in anderem Wasser; { $failures } von { $n } fielen aus, { $expected } waren erwartet. Mehr als Zufall, aber diese Küchen können sich in mehr als ihrem Wasser unterscheiden.
part-life-hardness-longer = { $band }: Teile lebten länger als in anderem Wasser; { $failures } von { $n } fielen aus, { $expected } waren erwartet. Mehr als Zufall, aber diese Küchen können sich in mehr als ihrem Wasser unterscheiden.
part-life-hardness-alike = Kein Härtebereich unterscheidet sich mehr als zufällig: Dass die Härte hier zählt, ist nicht gezeigt.
part-life-hardness-few = Zu wenige sind ausgefallen, um zu sagen, was die Härte hier macht.
