use super::quantity;

quantity! {
    /// A voltage, in volts: root mean square of alternating, magnitude of direct voltage.
    Voltage, from_volts, volts
}

quantity! {
    /// A current, in amperes: root mean square of alternating, magnitude of direct current.
    Current, from_amperes, amperes
}

quantity! {
    /// Active power, in watts.
    Power, from_watts, watts
}

quantity! {
    /// The resistance of a conductor, a winding or an element, in ohms.
    Resistance, from_ohms, ohms
}

quantity! {
    /// The resistance of insulation under the test voltage, in megaohms.
    InsulationResistance, from_megaohms, megaohms
}

quantity! {
    /// A capacitance, in microfarads.
    Capacitance, from_microfarads, microfarads
}

quantity! {
    /// A frequency, in hertz.
    Frequency, from_hertz, hertz
}
