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
column-part = Teil
column-sum = Summe
column-amount = Wert
