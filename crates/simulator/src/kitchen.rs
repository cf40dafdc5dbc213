//! Kitchens: what is cooked there, how it is cleaned, and what water, current and drain the building
//! gives. All towns are invented.

use crate::defect::{Defect, Severities, felt};
use crate::physics::Surroundings;
use crate::random::Random;

/// What sort of kitchen, and how such a kitchen uses its machines.
#[derive(Debug, PartialEq)]
pub struct Kind {
    pub key: &'static str,
    pub label: &'static str,
    pub washes_per_day: f64,
    pub cooking_hours: f64,
    /// Grease and food in the wash, 1 is usual.
    pub grease: f64,
    /// How well people clean by hand, look after strainers and dry gaskets: 1 is usual.
    pub care: f64,
    /// How soon they pick up the telephone: 1 is usual.
    pub attention: f64,
    pub days_a_week: i64,
    pub appliances: (usize, usize),
}

pub const KINDS: &[Kind] = &[
    Kind::of("hospital", "Hospital", 1.6, 12.0, 0.8, 1.2, 1.4, 7, (4, 6)),
    Kind::of("school", "School", 0.8, 5.0, 0.8, 0.9, 0.9, 5, (2, 3)),
    Kind::of("hotel", "Hotel", 1.4, 11.0, 1.1, 1.1, 1.1, 7, (2, 4)),
    Kind::of("ferry", "Ferry", 1.8, 14.0, 1.2, 0.9, 1.2, 7, (2, 3)),
    Kind::of("bakery", "Bakery", 1.0, 10.0, 0.6, 1.0, 0.9, 6, (1, 3)),
    Kind::of("restaurant", "Restaurant", 1.3, 9.0, 1.4, 0.8, 0.8, 6, (1, 3)),
    Kind::of("grill", "Grill house", 1.5, 10.0, 2.2, 0.7, 0.7, 7, (1, 2)),
    Kind::of("canteen", "Works canteen", 1.0, 6.0, 1.0, 1.0, 1.0, 5, (2, 4)),
];

impl Kind {
    #[expect(clippy::too_many_arguments, reason = "one row of the table above")]
    const fn of(
        key: &'static str,
        label: &'static str,
        washes_per_day: f64,
        cooking_hours: f64,
        grease: f64,
        care: f64,
        attention: f64,
        days_a_week: i64,
        appliances: (usize, usize),
    ) -> Self {
        Self { key, label, washes_per_day, cooking_hours, grease, care, attention, days_a_week, appliances }
    }

    pub fn open_on(&self, weekday: i64) -> bool {
        weekday < self.days_a_week
    }
}

/// A supply area: its water, its pressure, its height.
#[derive(Debug, PartialEq)]
pub struct Town {
    pub name: &'static str,
    pub hardness_mg_per_l: f64,
    pub chloride_mg_per_l: f64,
    pub pressure_bar: f64,
    pub altitude_m: f64,
}

pub const TOWNS: &[Town] = &[
    Town::of("Saltmere", 210.0, 45.0, 3.4, 5.0),
    Town::of("Quillhaven", 95.0, 30.0, 3.8, 20.0),
    Town::of("Brackenfold", 320.0, 25.0, 3.3, 140.0),
    Town::of("Ostrel Bay", 160.0, 70.0, 3.0, 10.0),
    Town::of("Upper Fennick", 60.0, 12.0, 4.2, 620.0),
    Town::of("Marlstow", 280.0, 35.0, 3.4, 80.0),
    Town::of("Gannet Quay", 130.0, 85.0, 3.2, 3.0),
    Town::of("Tarn Ebbing", 40.0, 10.0, 4.6, 410.0),
    Town::of("Windlass", 190.0, 50.0, 3.3, 30.0),
    Town::of("Corrowsand", 240.0, 28.0, 3.6, 210.0),
];

impl Town {
    const fn of(name: &'static str, hardness: f64, chloride: f64, pressure: f64, altitude: f64) -> Self {
        Self {
            name,
            hardness_mg_per_l: hardness,
            chloride_mg_per_l: chloride,
            pressure_bar: pressure,
            altitude_m: altitude,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Treatment {
    None,
    Softener,
    Cartridge,
}

impl Treatment {
    pub const fn of_the_domain(self) -> domain::site_water::Treatment {
        match self {
            Self::None => domain::site_water::Treatment::None,
            Self::Softener => domain::site_water::Treatment::Softener,
            Self::Cartridge => domain::site_water::Treatment::Cartridge,
        }
    }
}

/// One kitchen and its building.
#[derive(Debug)]
pub struct Kitchen {
    pub kind: &'static Kind,
    pub town: &'static Town,
    pub treatment: Treatment,
    /// Days a fresh treatment lasts, and whether people change it in time.
    pub treatment_days: f64,
    pub discipline: f64,
    pub pressure_bar: f64,
    /// Half the daily swing, and the flutter within seconds.
    pub swing_bar: f64,
    pub flutter_bar: f64,
    pub voltage: f64,
    pub hardness_mg_per_l: f64,
    pub debris: f64,
    pub grease: f64,
    pub care: f64,
    /// How often machines are hosed down, 1 is usual.
    pub hosing: f64,
    pub vermin: f64,
    /// The defects of the building; those of the machines stay 0 here.
    pub building: Severities,
    /// Pressure that will not get better unless the owner rebuilds.
    pub chronic_pressure: f64,
    pub chronic_voltage: f64,
}

impl Kitchen {
    pub fn built(kind: &'static Kind, town: &'static Town, random: &mut Random) -> Self {
        let hardness = town.hardness_mg_per_l * random.factor(0.15);
        let treatment = match () {
            () if hardness > 160.0 && random.chance(0.95) => Treatment::Softener,
            () if hardness > 65.0 && random.chance(0.92) => Treatment::Cartridge,
            () => Treatment::None,
        };
        let chronic_pressure = if random.chance(0.06) { random.between(0.36, 0.55) } else { 0.0 };
        let chronic_voltage = if random.chance(0.006) { random.between(0.36, 0.6) } else { 0.0 };
        let building = Severities::default()
            .with(Defect::SupplyPressureLow, chronic_pressure)
            .with(Defect::SupplyVoltageLow, chronic_voltage)
            .with(Defect::BuildingDrainBlocked, random.between(0.0, 0.3))
            .with(Defect::TreatmentExhausted, 0.0);
        Self {
            kind,
            town,
            treatment,
            treatment_days: random.between(150.0, 400.0),
            discipline: random.uniform(),
            pressure_bar: (town.pressure_bar * random.factor(0.10)).max(2.5),
            swing_bar: random.between(0.1, 0.35),
            flutter_bar: random.between(0.02, 0.10),
            voltage: random.normal(1.0, 0.015),
            hardness_mg_per_l: hardness,
            debris: random.factor(0.9),
            grease: kind.grease * random.factor(0.35),
            care: kind.care * random.factor(0.25),
            hosing: random.factor(0.7),
            vermin: random.factor(1.0),
            building,
            chronic_pressure,
            chronic_voltage,
        }
    }

    /// Hardness that reaches the machines, as CaCO₃.
    pub fn fed_hardness(&self) -> f64 {
        let passed = match self.treatment {
            Treatment::None => 1.0,
            Treatment::Softener => 0.12,
            Treatment::Cartridge => 0.35,
        };
        let exhausted = felt(self.building[Defect::TreatmentExhausted]);
        self.hardness_mg_per_l * (passed + (1.0 - passed) * exhausted)
    }

    /// What the building gives at that hour (0…24) of that day of the year.
    pub fn surroundings(&self, day: i64, hour: f64, random: &mut Random) -> Surroundings {
        let meal =
            libm::exp(-((hour - 11.5) / 2.0).powi(2)) + 0.7 * libm::exp(-((hour - 18.0) / 1.8).powi(2));
        let season = libm::cos(std::f64::consts::TAU * (day as f64 - 230.0) / 365.25);
        Surroundings {
            static_pressure_bar: self.pressure_bar
                + self.swing_bar * (0.4 - 1.4 * meal)
                + random.normal(0.0, 0.05),
            pressure_flutter_bar: self.flutter_bar,
            voltage: self.voltage + random.normal(0.0, 0.006),
            water_cel: 13.0 + 5.0 * season + random.normal(0.0, 0.7),
            hardness_mg_per_l: self.fed_hardness(),
            boiling_cel: boiling_cel(self.town.altitude_m),
        }
    }

    /// The same without the hour and without chance.
    pub fn usual_surroundings(&self) -> Surroundings {
        Surroundings {
            static_pressure_bar: self.pressure_bar,
            pressure_flutter_bar: 0.0,
            voltage: self.voltage,
            water_cel: 13.0,
            hardness_mg_per_l: self.fed_hardness(),
            boiling_cel: boiling_cel(self.town.altitude_m),
        }
    }

    /// Days go by for the building: its drain and treatment foul, its pipes are worked on. Returns the
    /// dirt that came down the pipes, if any.
    pub fn age(&mut self, days: f64, random: &mut Random) -> Option<f64> {
        let years = days / crate::clock::YEAR_DAYS;
        self.building.add(Defect::BuildingDrainBlocked, 0.06 * self.grease / self.care * years);
        if random.chance((0.012 * self.grease * years).min(1.0)) {
            self.building.add(Defect::BuildingDrainBlocked, random.between(0.4, 0.9));
        }
        if self.treatment != Treatment::None {
            let before = self.building[Defect::TreatmentExhausted];
            let hard = self.hardness_mg_per_l / 200.0;
            // rising slowly while it lasts, fast when it is spent
            let speed = if before < 0.3 { 0.3 } else { 1.5 };
            self.building.add(Defect::TreatmentExhausted, speed * hard * days / self.treatment_days);
            let changed = if before > 0.28 { 0.06 * self.discipline } else { 0.0 };
            if random.chance((changed * days).min(1.0)) {
                self.building.set(Defect::TreatmentExhausted, 0.0);
            }
        }
        if random.chance((0.053 * years).min(1.0)) {
            self.building.set(Defect::SupplyPressureLow, random.between(0.42, 0.68));
        }
        if random.chance((0.044 * years).min(1.0)) {
            self.building.set(Defect::SupplyValvePartShut, random.between(0.42, 1.0));
        }
        if random.chance((0.0035 * years).min(1.0)) {
            self.building.set(Defect::SupplyVoltageLow, random.between(0.36, 0.7));
        }
        random.chance((0.085 * years).min(1.0)).then(|| random.between(0.15, 0.7) * self.debris.min(2.0))
    }

    /// The building is put right, as far as it can be.
    pub fn restores(&mut self, defect: Defect, random: &mut Random) {
        let chronic = match defect {
            Defect::SupplyPressureLow => &mut self.chronic_pressure,
            Defect::SupplyVoltageLow => &mut self.chronic_voltage,
            _ => {
                self.building.set(defect, random.between(0.0, 0.08));
                return;
            }
        };
        // a half-shut cock is opened at once; a weak main stays until the owner rebuilds
        if random.chance(0.4) {
            *chronic = 0.0;
        }
        self.building.set(defect, *chronic);
    }
}

/// Water boils at about 100 °C less 1 K for each 300 m (ISO 2533's atmosphere gives 95.0 at 1500 m).
fn boiling_cel(altitude_m: f64) -> f64 {
    100.0 - altitude_m / 300.0
}
