//! Plausible cases by the thousand, for timing and for tests over many: varied as the list of a firm is, and some broken
//! if that is asked for.
//!
//! Comes in: a seed, and the number of a case. Goes out: its text. The same seed and number give the same text on every
//! machine, whatever else is made. People, streets, cities and firms are invented; only the shape of ZIP codes is real.
//! Knows the case file and nothing of the program: what it says was claimed on a return it reckons by itself, for
//! households whose credit is simple.

use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};

/// What is made: how many, from which seed, and how many of a thousand are broken.
#[derive(Clone, Copy, Debug)]
pub struct Lot {
    /// How many cases.
    pub count: u32,
    /// Where chance begins.
    pub seed: u64,
    /// How many of a thousand are broken.
    pub broken: u32,
}

impl Lot {
    /// Says how the case with a number is broken, if it is. Broken cases lie evenly among the others.
    pub fn breakage(&self, number: u32) -> Option<Breakage> {
        let before = |number: u32| u64::from(number) * u64::from(self.broken) / 1000;
        let so_far = before(number);
        (before(number + 1) > so_far)
            .then(|| Breakage::ALL[usize::try_from(so_far).unwrap_or(0) % Breakage::ALL.len()])
    }

    /// Returns the bytes of the case with a number, counted from zero.
    pub fn case(&self, number: u32) -> Vec<u8> {
        let whole = household(self.seed, number);
        match self.breakage(number) {
            Some(breakage) => breakage.of(&whole),
            None => whole.into_bytes(),
        }
    }

    /// Returns where a case lies below the folder: a folder for each five hundred, as a firm might keep them.
    pub fn place(number: u32) -> PathBuf {
        let shelf = number / 500;
        PathBuf::from(format!("shelf-{shelf:03}")).join(format!("{}.case.yaml", reference(number)))
    }

    /// Writes all cases below a folder, and the file of the firm that sends the letters into it.
    pub fn write(&self, folder: &Path) -> io::Result<()> {
        std::fs::create_dir_all(folder)?;
        std::fs::write(folder.join("firm.yaml"), FIRM)?;
        for number in 0..self.count {
            let path = folder.join(Lot::place(number));
            if number % 500 == 0 {
                std::fs::create_dir_all(path.parent().unwrap_or(folder))?;
            }
            std::fs::write(path, self.case(number))?;
        }
        Ok(())
    }
}

/// The firm that sends the letters.
pub const FIRM: &str = "\
name: Thornfield Tax and Accounts
address: {street: 14 Exchange Row, unit: Ste 210, city: Amberwick, state: OH, zip: 45990}
phone: 513-555-0118
email: office@thornfield.example
signatory: Edda Thornfield
title: Certified Public Accountant
";

fn reference(number: u32) -> String {
    format!("TF-{number:05}")
}

/// Chance, made by a formula from a seed, so that it repeats: the finalizer of a 64-bit mixing function over a counter.
struct Chance(u64);

impl Chance {
    fn new(seed: u64, number: u32) -> Chance {
        let mut chance = Chance(seed ^ (u64::from(number) << 20));
        // Neighboring numbers part ways.
        (0..3).for_each(|_| {
            chance.next();
        });
        chance
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A number from `least` to `most`, both included.
    fn between(&mut self, least: i64, most: i64) -> i64 {
        let span = (most - least + 1).unsigned_abs();
        least + i64::try_from(self.next() % span).unwrap_or(0)
    }

    /// True so many times of a hundred.
    fn percent(&mut self, of_hundred: i64) -> bool {
        self.between(1, 100) <= of_hundred
    }

    fn pick<'a, T: ?Sized>(&mut self, among: &[&'a T]) -> &'a T {
        let at = self.between(0, i64::try_from(among.len()).unwrap_or(1) - 1);
        among[usize::try_from(at).unwrap_or(0)]
    }

    /// One of several names with a comma between them.
    fn word<'a>(&mut self, among: &'a str) -> &'a str {
        self.pick(&among.split(", ").collect::<Vec<_>>())
    }

    /// An amount of whole dollars, a multiple of fifty, so that every percentage of it is whole too.
    fn dollars(&mut self, least: i64, most: i64) -> i64 {
        self.between(least / 50, most / 50) * 50
    }
}

const GIVEN: &str = "Ada, Alonso, Amparo, Anselm, Beatriz, Bram, Calla, Cyril, Dagny, Delia, Edwin, Elodie, Emeric, \
    Fabia, Fermín, Garnet, Gideon, Hedda, Horace, Ilse, Íñigo, Jasper, Joaquín, José, Lavinia, \
    Leopold, Lucía, Magdalena, Mercer, Míriam, Noor, Octavia, Orrin, Perpetua, Quentin, Raúl, \
    Rosalind, Sabine, Silvio, Tamsin, Thaddeus, Úrsula, Verena, Wendell, Ximena, Yolanda, Zacarías";
const SPANISH: &str = "Begoña Arreola, Concepción Núñez, Efraín Quiñones, Inés Peñaranda, Jesús Ibáñez Vidal, \
    María José Zúñiga, Ramón Güereña, Tomás Avilés Coello";
const FAMILY: &str = "Ackerly, Alderbrook, Ashdown, Bellweather, Birchall, Brightwater, Cardew, Castellanos, \
    Cobblestone, Dunmore, Ellsworthy, Fairholme, Farrow-Pike, Fenwright, Gallardo, Greenhalgh, \
    Hartsock, Hollis, Ironside, Juniper, Kestrel, Larkmoor, Lindqvist, Marrow, Montcrieff, \
    Nettlefold, O'Dell, Ocaña, Pemberley, Peña, Quillan, Ravenhill, Redfern, Sedgewick, \
    Silverthorn, Sturdivant, Tamarack, Thistlewood, Underhay, Vane, Villaseñor, Wexcombe, Whitlock, \
    Yarrow, Zellweg";
const STREETS: &str = "Alder Lane, Bellflower Court, Calle del Olmo, Cinder Road, Coppice Way, Dovecote Street, \
    Eel Pond Road, Foxglove Terrace, Granary Street, Heron Court, Ironwood Drive, Juniper Loop, \
    Kiln Hill Road, Lantern Hill, Mill Race, Nuthatch Circle, Old Ferry Road, Paseo de la Peña, \
    Quarry Bend, Rope Walk, Sycamore Rise, Tollgate Street, Upper Meadow Road, Vine Street, \
    Windmill Road, Yew Tree Lane";
/// Invented cities, each with its state and the first three figures of that state's ZIP codes.
const CITIES: &[&(&str, &str, &str)] = &[
    &("Amberwick", "OH", "459"),
    &("Bright Harbor", "ME", "049"),
    &("Cañada Seca", "NM", "875"),
    &("Coldspring Notch", "NH", "035"),
    &("Copper Ferry", "AZ", "859"),
    &("Dunlin Bay", "NJ", "089"),
    &("Eastmarch", "VT", "058"),
    &("Fennel Grove", "CA", "956"),
    &("Gray Mesa", "CO", "816"),
    &("Harlow Falls", "MA", "013"),
    &("Indigo Springs", "TX", "789"),
    &("Jessamine Point", "FL", "349"),
    &("Kettle Junction", "WI", "549"),
    &("Lower Branch", "NC", "289"),
    &("Millrace Junction", "ID", "838"),
    &("Nightingale", "GA", "319"),
    &("Old Quay", "RI", "028"),
    &("Port Garnet", "WA", "989"),
    &("Quartz Hollow", "UT", "847"),
    &("Riverton Shoals", "TN", "379"),
    &("Saltmarsh Ferry", "CT", "064"),
    &("Tamarind Key", "PR", "007"),
    &("Upper Tolland", "NY", "129"),
    &("Villa Peñasco", "NV", "894"),
    &("Wexley", "MN", "559"),
    &("Yellow Bluff", "OR", "978"),
];

/// A row of costs of an offer: what it was for, its nature, and between which amounts its price lies.
type Row = (&'static str, &'static str, i64, i64);

/// Property as it is sold, with the lines of facts that it needs; `Y` in them stands for the year before.
struct Offer {
    kind: &'static str,
    key: &'static str,
    facts: &'static str,
    rows: &'static [Row],
    /// The standard that it meets, by name.
    meets: &'static str,
    /// From 2025 on its maker's code must be given.
    code: bool,
}

/// Property of the clean energy credit.
const CLEAN: &[&Offer] = &[
    &Offer {
        kind: "solar_electric",
        key: "roof-array",
        facts: "",
        rows: &[
            ("panels and inverter", "equipment", 8_000, 26_000),
            ("wiring to the house", "piping_and_wiring", 400, 1_800),
            ("installation", "onsite_labor", 1_500, 6_500),
        ],
        meets: "",
        code: false,
    },
    &Offer {
        kind: "battery_storage",
        key: "battery",
        facts: "    capacity_kwh: 13.5\n",
        rows: &[("battery", "equipment", 6_000, 14_000), ("installation", "onsite_labor", 800, 2_400)],
        meets: "",
        code: false,
    },
    &Offer {
        kind: "solar_water_heating",
        key: "collectors",
        facts: "    solar_share: 60%\n    certified: {by: a certification body, number: SW-2201}\n",
        rows: &[
            ("collectors and tank", "equipment", 4_000, 8_500),
            ("copper lines", "piping_and_wiring", 300, 900),
            ("installation", "onsite_labor", 1_200, 2_800),
        ],
        meets: "",
        code: false,
    },
    &Offer {
        kind: "geothermal_heat_pump",
        key: "ground-loop",
        facts: "",
        rows: &[
            ("heat pump", "equipment", 9_000, 16_000),
            ("drilling and loop", "onsite_labor", 8_000, 15_000),
            ("pipes", "piping_and_wiring", 1_500, 4_000),
        ],
        meets: "Energy Star, in effect when installed",
        code: false,
    },
    &Offer {
        kind: "small_wind",
        key: "turbine",
        facts: "    capacity_kw: 4.5\n",
        rows: &[
            ("turbine and tower", "equipment", 12_000, 24_000),
            ("installation", "onsite_labor", 2_000, 6_000),
        ],
        meets: "",
        code: false,
    },
];

/// Property of the home improvement credit, as sold from 2023 on.
const IMPROVEMENTS: &[&Offer] = &[
    &Offer {
        kind: "insulation_or_air_sealing",
        key: "attic",
        facts: "",
        rows: &[("cellulose", "material", 600, 2_800), ("blowing in", "onsite_labor", 400, 1_600)],
        meets: "energy code in effect on January 1 two years before (IECC)",
        code: false,
    },
    &Offer {
        kind: "exterior_door",
        key: "front-door",
        facts: "",
        rows: &[("front door", "material", 700, 2_400)],
        meets: "Energy Star, version in force at installation",
        code: true,
    },
    &Offer {
        kind: "window_or_skylight",
        key: "windows",
        facts: "    units: 4\n",
        rows: &[("four windows", "material", 1_800, 6_400)],
        meets: "Energy Star Most Efficient",
        code: true,
    },
    &Offer {
        kind: "central_air_conditioner",
        key: "air-conditioner",
        facts: "",
        rows: &[
            ("outdoor and indoor unit", "equipment", 3_200, 6_400),
            ("installation", "onsite_labor", 800, 1_800),
        ],
        meets: "CEE highest tier below advanced",
        code: true,
    },
    &Offer {
        kind: "furnace_or_boiler",
        key: "furnace",
        facts: "    fuel: natural gas\n",
        rows: &[("furnace", "equipment", 2_600, 5_400), ("installation", "onsite_labor", 900, 1_900)],
        meets: "CEE highest tier below advanced",
        code: true,
    },
    &Offer {
        kind: "heat_pump",
        key: "heat-pump",
        facts: "",
        rows: &[
            ("ductless heat pump", "equipment", 3_800, 9_800),
            ("installation", "onsite_labor", 1_200, 3_200),
        ],
        meets: "CEE highest tier below advanced",
        code: true,
    },
    &Offer {
        kind: "heat_pump_water_heater",
        key: "water-heater",
        facts: "",
        rows: &[
            ("heat pump water heater", "equipment", 1_800, 3_400),
            ("installation", "onsite_labor", 400, 1_200),
        ],
        meets: "CEE highest tier below advanced",
        code: true,
    },
    &Offer {
        kind: "biomass_stove_or_boiler",
        key: "stove",
        facts: "    efficiency: 78%\n",
        rows: &[("pellet stove", "equipment", 2_800, 5_200)],
        meets: "",
        code: true,
    },
];

/// What kind of client this is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Profile {
    /// Clean energy property, and the years after it.
    Clean,
    /// A balance that the client brought along.
    BroughtIn,
    /// Home improvements.
    Improved,
    /// Both in one year.
    Both,
    /// Two who own together and file apart.
    JointOwners,
    /// A main home and another residence.
    TwoHomes,
    /// A member of a condominium whose association put panels up.
    Association,
    /// A chain that begins years ago.
    Older,
}

const PROFILES: &[&(Profile, i64)] = &[
    &(Profile::Clean, 34),
    &(Profile::BroughtIn, 20),
    &(Profile::Improved, 18),
    &(Profile::Both, 8),
    &(Profile::JointOwners, 5),
    &(Profile::TwoHomes, 4),
    &(Profile::Association, 3),
    &(Profile::Older, 8),
];

/// A case in the making.
struct Making {
    chance: Chance,
    profile: Profile,
    spanish: bool,
    joint: bool,
    /// The year of the work, or into which a balance was brought.
    first: i64,
    last: i64,
    /// The clean energy credit earned in each year; none where it is not simple to reckon.
    earned: Option<Vec<(i64, i64)>>,
    property: String,
    evidence: String,
    shared: String,
    homes: String,
}

/// Writes the case with a number.
pub fn household(seed: u64, number: u32) -> String {
    let mut chance = Chance::new(seed, number);
    let mut drawn = chance.between(1, PROFILES.iter().map(|(_, share)| share).sum());
    let mut profile = Profile::Clean;
    for (one, share) in PROFILES {
        if drawn > 0 && drawn <= *share {
            profile = *one;
        }
        drawn -= share;
    }
    let first = match profile {
        Profile::Older => chance.between(2014, 2022),
        Profile::BroughtIn => chance.between(2024, 2026),
        _ => chance.between(2023, 2025),
    };
    // Most returns of 2026 are only foreseen yet; some clients have not even that.
    let last = if chance.percent(75) { 2026 } else { 2025.max(first) };
    let spanish = chance.percent(12);
    let joint = profile != Profile::JointOwners && chance.percent(55);
    let mut making = Making {
        chance,
        profile,
        spanish,
        joint,
        first,
        last,
        earned: Some(Vec::new()),
        property: String::new(),
        evidence: String::new(),
        shared: String::new(),
        homes: String::new(),
    };
    making.whole(number)
}

impl Making {
    fn whole(&mut self, number: u32) -> String {
        let mut text = String::new();
        if self.chance.percent(20) {
            text.push_str("# Kept up by the office; papers lie under the same reference.\n");
        }
        text.push_str("format: 1\n\n");
        let address = self.address();
        self.client(number, &address, &mut text);
        let by = self.chance.pick(&["J. Birch", "M. Cedar", "R. Dogwood", "T. Hazel"]);
        let day = self.chance.between(1, 27);
        let _ = write!(text, "\nprepared: {{by: {by}, on: 2026-11-{day:02}}}\n\n");

        let held_as = match self.profile {
            Profile::Association => "condo_member",
            _ => "owner",
        };
        let _ = write!(
            self.homes,
            "  home:\n    address: {{{address}}}\n    use: main_home\n    held_as: {held_as}\n"
        );
        self.buy();
        let _ = write!(text, "homes:\n{}\nproperty:\n{}\n", self.homes, self.property);
        if !self.shared.is_empty() {
            let _ = write!(text, "shared:\n{}\n", self.shared);
        }
        let brought = (self.profile == Profile::BroughtIn).then(|| self.chance.between(120, 7_400));
        self.returns(brought, &mut text);
        if let Some(amount) = brought {
            let before = self.first - 1;
            let _ = write!(
                text,
                "\ncarried_in:\n  {}: {{amount: {amount}, shown_on: {before} Form 5695 line 16}}\n",
                self.first
            );
        }
        if self.chance.percent(30) {
            let _ = write!(text, "\nplanning:\n");
            for year in self.last + 1..=self.last + self.chance.between(1, 3) {
                let tax = self.chance.dollars(300, 6_000);
                let _ = writeln!(text, "  {year}: {{tax_before_credits: {tax}}}");
            }
            let rate = self.chance.pick(&["10%", "12%", "22%", "24%"]);
            let itemizes = self.chance.percent(15);
            let _ = write!(text, "  federal_rate: {rate}\n  itemizes: {itemizes}\n");
        }
        let _ = write!(text, "\nevidence:\n{}", self.evidence);
        text
    }

    fn address(&mut self) -> String {
        let number = self.chance.between(1, 1899);
        let street = self.chance.word(STREETS);
        let (city, state, zip) = self.chance.pick(CITIES);
        let unit = match self.chance.between(1, 10) {
            1 => format!("unit: Apt {}, ", self.chance.between(1, 44)),
            2 => "unit: \"Unit #3B\", ".to_string(),
            _ => String::new(),
        };
        let last = self.chance.between(0, 99);
        let more = match self.chance.percent(30) {
            true => format!("-{:04}", self.chance.between(1, 9999)),
            false => String::new(),
        };
        // ZIP codes of New England begin with a zero that a careless reader loses.
        let quote = if self.chance.percent(50) { "\"" } else { "" };
        format!(
            "street: {number} {street}, {unit}city: {city}, state: {state}, zip: {quote}{zip}{last:02}{more}{quote}"
        )
    }

    fn client(&mut self, number: u32, address: &str, text: &mut String) {
        let family = self.chance.word(FAMILY);
        let mut people = vec![match self.spanish {
            true => self.chance.word(SPANISH).to_string(),
            false => format!("{} {family}", self.chance.word(GIVEN)),
        }];
        // A few joint returns do not name the spouse yet.
        if self.joint && !self.chance.percent(4) {
            people.push(format!("{} {family}", self.chance.word(GIVEN)));
        }
        let _ = write!(text, "client:\n  reference: {}\n  people:\n", reference(number));
        for name in &people {
            let digits = self.chance.between(0, 9999);
            let _ = match self.chance.percent(80) {
                true => writeln!(text, "    - {{name: {name}, tin: \"***-**-{digits:04}\"}}"),
                false => writeln!(text, "    - {{name: {name}}}"),
            };
        }
        if !self.chance.percent(4) {
            let names = people.join(", ");
            let _ = writeln!(text, "  mail_to: {{names: [{names}], {address}}}");
        }
        if self.spanish && self.chance.percent(60) {
            text.push_str("  language: es\n");
        }
        let day = self.chance.between(1, 28);
        let _ = match self.chance.between(1, 100) {
            1..=55 => writeln!(text, "  engagement: {{reminder_basis: preparation}}"),
            56..=72 => {
                writeln!(text, "  engagement: {{reminder_basis: accounting_services, until: 2029-12-31}}")
            }
            73..=86 => {
                writeln!(
                    text,
                    "  engagement: {{reminder_basis: consent, consented: 2026-02-{day:02}, until: 2028-12-31}}"
                )
            }
            // A consent that has run out.
            87..=91 => {
                writeln!(
                    text,
                    "  engagement: {{reminder_basis: consent, consented: 2023-02-{day:02}, until: 2024-12-31}}"
                )
            }
            _ => Ok(()),
        };
        let _ = match self.chance.between(1, 20) {
            1..=4 => writeln!(text, "  delivery: portal"),
            5 => writeln!(text, "  delivery: none"),
            6..=8 => writeln!(text, "  delivery: mail"),
            _ => Ok(()),
        };
    }

    /// Buys what such a client buys.
    fn buy(&mut self) {
        let year = self.first;
        match self.profile {
            Profile::Clean => {
                self.item(CLEAN[0], year, "home");
                if year >= 2023 && self.chance.percent(35) {
                    self.item(CLEAN[1], year, "home");
                    self.share("roof-array", "battery", year);
                }
                if self.chance.percent(12) {
                    let offer = self.chance.pick(&CLEAN[2..]);
                    let later = self.chance.between(year, 2025);
                    self.item(offer, later, "home");
                }
            }
            Profile::Older => {
                let offer = if self.chance.percent(70) { CLEAN[0] } else { self.chance.pick(&CLEAN[2..3]) };
                self.item(offer, year, "home");
                if self.chance.percent(25) {
                    let later = self.chance.between(2023, 2025);
                    self.item(CLEAN[1], later, "home");
                }
            }
            Profile::BroughtIn => {
                let bought = self.chance.between(2017, year.min(2026) - 1);
                // What stands before the balance is kept for basis and papers; it is no part of the reckoning.
                let earned = self.earned.clone();
                self.item(CLEAN[0], bought, "home");
                self.earned = earned;
            }
            Profile::Improved | Profile::Both => {
                if self.profile == Profile::Both {
                    self.item(CLEAN[0], year, "home");
                }
                let at = self.chance.between(0, 7);
                let count = self.chance.between(1, 4);
                for n in 0..count {
                    let at = usize::try_from((at + n) % 8).unwrap_or(0);
                    let year = if self.chance.percent(70) { year } else { self.chance.between(year, 2025) };
                    self.item(IMPROVEMENTS[at], year, "home");
                }
                if self.chance.percent(20) {
                    self.audit(year);
                }
                self.earned = None;
            }
            Profile::JointOwners => {
                let offer = self.chance.pick(&[IMPROVEMENTS[5], IMPROVEMENTS[6], CLEAN[0]]);
                self.item(offer, year, "home");
                let others = self.chance.dollars(1_000, 6_000);
                let _ = writeln!(self.property, "    paid_by_others: {others}");
                self.earned = None;
            }
            Profile::TwoHomes => {
                let address = self.address();
                let _ = write!(
                    self.homes,
                    "  cabin:\n    address: {{{address}}}\n    use: other_residence\n    held_as: owner\n"
                );
                self.item(CLEAN[0], year, "home");
                let offer = self.chance.pick(&[CLEAN[2], CLEAN[3], IMPROVEMENTS[5]]);
                self.item(offer, year, "cabin");
                self.property.push_str("    nonbusiness_use: 100%\n");
                self.earned = None;
            }
            Profile::Association => {
                let amount = self.chance.dollars(90_000, 400_000);
                let month = self.chance.between(3, 10);
                let _ = write!(
                    self.property,
                    "  common-roof:\n    kind: solar_electric\n    home: home\n    part_of: existing_home\n    acquired: bought\n    \
                     condition: new\n    installed: {year}-{month:02}-14\n    association: {{name: Owners of the Foundry, share: 1.25%}}\n    \
                     costs: [{{item: panels on the common roof, as: lump_sum, amount: {amount}, evidence: statement}}]\n"
                );
                self.evidence
                    .push_str("  statement: {type: association_statement, on_file: true, where: portal}\n");
                self.earned = None;
            }
        }
        if self.chance.percent(60) {
            self.evidence.push_str("  deed: {type: proof_of_home, on_file: true, where: binder 1}\n");
        }
    }

    fn item(&mut self, offer: &Offer, year: i64, home: &str) {
        let (key, kind) = (offer.key, offer.kind);
        let (month, day) = (self.chance.between(2, 11), self.chance.between(1, 28));
        let _ = write!(
            self.property,
            "  {key}:\n    kind: {kind}\n    home: {home}\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    \
             installed: {year}-{month:02}-{day:02}\n{}",
            offer.facts
        );
        if !offer.meets.is_empty() {
            let _ = writeln!(self.property, "    meets: {}", offer.meets);
        }
        if offer.code && year >= 2025 {
            let code = self.chance.between(10, 99);
            let _ = writeln!(self.property, "    maker_code: Q{code}K");
        }
        if kind == "solar_electric" && self.chance.percent(40) {
            let _ = writeln!(self.property, "    permission_to_operate: {year}-12-{day:02}");
        }
        let paper = format!("inv-{key}");
        let mut net = 0;
        self.property.push_str("    costs:\n");
        for (words, nature, least, most) in offer.rows {
            let amount = self.chance.dollars(*least, *most);
            net += amount;
            let written = self.written(amount);
            let paid = match self.chance.percent(50) {
                true => format!(", paid: {year}-{month:02}-{day:02}"),
                false => String::new(),
            };
            let _ = writeln!(
                self.property,
                "      - {{item: {words}, as: {nature}, amount: {written}{paid}, evidence: {paper}}}"
            );
        }
        if self.chance.percent(15) {
            let amount = self.chance.dollars(100, 400);
            net -= amount;
            let _ = writeln!(
                self.property,
                "      - {{item: early order, as: discount, amount: {amount}, evidence: {paper}}}"
            );
        }
        net -= self.incentives(key, year);
        let place = self.chance.pick(&["portal", "binder 3", "folder 2025", "caja 12, año 2025"]);
        let _ = writeln!(self.evidence, "  {paper}: {{type: invoice, on_file: true, where: \"{place}\"}}");
        // Some papers are still to come.
        if self.chance.percent(22) {
            let _ = writeln!(
                self.evidence,
                "  cert-{key}: {{type: certification, on_file: false, items: [{key}]}}"
            );
        }
        let rate = match year {
            2020 | 2021 => 26,
            _ => 30,
        };
        if let Some(earned) = &mut self.earned {
            earned.push((year, net * rate / 100));
        }
    }

    /// Writes what others paid toward an item; returns what of it comes off the cost.
    fn incentives(&mut self, key: &str, year: i64) -> i64 {
        let drawn = self.chance.between(1, 10);
        if drawn > 4 {
            return 0;
        }
        let amount = self.chance.dollars(100, 600);
        let _ =
            writeln!(self.evidence, "  award-{key}: {{type: award_letter, on_file: true, where: portal}}");
        self.property.push_str("    incentives:\n");
        let (row, off) = match drawn {
            1 => (
                format!(
                    "from: Lowland Power and Light, as: utility_subsidy, amount: {amount}, agreed: {year}-01-20"
                ),
                amount,
            ),
            2 => (
                format!("from: the maker, as: price_rebate, amount: {amount}, received: {year}-12-28"),
                amount,
            ),
            3 => (format!("from: State revenue, as: state_tax_credit, amount: {amount}"), 0),
            _ => (
                format!(
                    "from: Lowland Power and Light, as: net_metering, amount: {amount}.40, received: {year}-12-31"
                ),
                0,
            ),
        };
        let _ = writeln!(self.property, "      - {{{row}, evidence: award-{key}}}");
        off
    }

    /// One permit over two items; whether it counts is not settled, so a chain with one is not simple to reckon.
    fn share(&mut self, one: &str, other: &str, year: i64) {
        if !self.chance.percent(40) {
            return;
        }
        let amount = self.chance.dollars(200, 600);
        let _ = writeln!(
            self.shared,
            "  - {{item: permit, as: permit, amount: {amount}, paid: {year}-03-02, evidence: inv-{one}, over: {{{one}: 70%, {other}: 30%}}}}"
        );
        self.earned = None;
    }

    fn audit(&mut self, year: i64) {
        let amount = self.chance.dollars(300, 650);
        let _ = write!(
            self.property,
            "  audit:\n    kind: home_energy_audit\n    home: home\n    part_of: existing_home\n    acquired: bought\n    condition: new\n    \
             performed: {year}-02-11\n    paid: {year}-02-14\n    \
             auditor: {{name: R. Dogwood, number: 98-7650001, program: a recognized certification program}}\n    \
             costs: [{{item: audit with written report, as: lump_sum, amount: {amount}, evidence: report}}]\n"
        );
        self.evidence.push_str("  report: {type: audit_report, on_file: true, where: portal}\n");
    }

    /// An amount in one of the ways in which people write it.
    fn written(&mut self, amount: i64) -> String {
        match self.chance.between(1, 6) {
            1 => format!("{amount}.00"),
            2 if amount >= 1_000 => format!("\"${},{:03}\"", amount / 1_000, amount % 1_000),
            _ => amount.to_string(),
        }
    }

    fn returns(&mut self, brought: Option<i64>, text: &mut String) {
        let status = match (self.joint, self.chance.percent(20)) {
            (true, _) => "married_filing_jointly",
            (false, true) => "head_of_household",
            (false, false) => "single",
        };
        let children = self.chance.percent(25);
        let tax = self.chance.dollars(400, 9_000);
        let form = if self.chance.percent(30) { "1040-SR" } else { "1040" };
        let agrees = self.chance.percent(85);
        let mut balance = brought.unwrap_or(0);
        text.push_str("returns:\n");
        for year in self.first..=self.last {
            let tax = (tax + self.chance.dollars(0, 1_200) - 600).max(0);
            let form = if year < 2019 { "1040" } else { form };
            let stage = match year {
                2026 => "projected",
                2025 if self.chance.percent(30) => "draft",
                _ if self.chance.percent(3) => "amended",
                _ => "filed",
            };
            let _ = write!(
                text,
                "  {year}:\n    form: {form}\n    stage: {stage}\n    filing_status: {status}\n"
            );
            let _ = writeln!(text, "    tax_before_credits: {tax}");
            let mut left = tax;
            let mut others = String::new();
            if self.chance.percent(20) {
                let amount = self.chance.between(60, 600).min(left);
                left -= amount;
                let _ = writeln!(others, "      child_and_dependent_care: {amount}");
            }
            if children && year >= 2022 {
                // The home improvement credit, at most 3,200, comes before all of it, the clean energy credit before
                // what would be paid out.
                let on_return = self.chance.between(400, 2_200).min((left - 3_200).max(0));
                let before = on_return * self.chance.between(30, 100) / 100;
                left -= before;
                let _ = writeln!(others, "      child_tax: {{return_line: {before}, worksheet_b: {before}}}");
            }
            if !others.is_empty() {
                let _ = write!(text, "    other_credits:\n{others}");
            }
            if stage == "filed" {
                let (month, day) = (self.chance.between(2, 4), self.chance.between(1, 14));
                let _ = writeln!(text, "    filed: {}-{month:02}-{day:02}", year + 1);
                let _ = match &self.earned {
                    Some(earned) => {
                        balance += earned.iter().filter(|one| one.0 == year).map(|one| one.1).sum::<i64>();
                        let used = balance.min(left);
                        balance -= used;
                        // On a few returns the credit was forgotten, and with it what goes on.
                        match agrees {
                            true => writeln!(text, "    claimed: {{clean: {used}, carried_out: {balance}}}"),
                            false => writeln!(text, "    claimed: {{clean: 0, carried_out: 0}}"),
                        }
                    }
                    None => Ok(()),
                };
            } else if let Some(earned) = &self.earned {
                balance += earned.iter().filter(|one| one.0 == year).map(|one| one.1).sum::<i64>();
                balance -= balance.min(left);
            }
        }
    }
}

/// A way in which a case is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Breakage {
    /// A bracket that never closes.
    BracketOpen,
    /// An amount as it is written elsewhere.
    ForeignAmount,
    /// A key misspelt.
    Misspelt,
    /// A return without its filing status.
    NoStatus,
    /// A full taxpayer number.
    TaxpayerNumber,
    /// A file that ends in the middle.
    Truncated,
    /// A letter of an old code page.
    NotUtf8,
    /// A file of UTF-16.
    Utf16,
    /// Nothing at all.
    Empty,
    /// The same key twice.
    Twice,
    /// A day that does not exist.
    NoSuchDay,
    /// A review before the preparation.
    Backwards,
    /// A home that is not in the case.
    NoSuchHome,
    /// Discounts above all costs.
    DiscountAbove,
    /// A kind of property that there is not.
    NoSuchKind,
    /// A tab where blanks are counted.
    Tab,
}

impl Breakage {
    /// All of them.
    pub const ALL: [Breakage; 16] = [
        Breakage::BracketOpen,
        Breakage::ForeignAmount,
        Breakage::Misspelt,
        Breakage::NoStatus,
        Breakage::TaxpayerNumber,
        Breakage::Truncated,
        Breakage::NotUtf8,
        Breakage::Utf16,
        Breakage::Empty,
        Breakage::Twice,
        Breakage::NoSuchDay,
        Breakage::Backwards,
        Breakage::NoSuchHome,
        Breakage::DiscountAbove,
        Breakage::NoSuchKind,
        Breakage::Tab,
    ];

    /// Breaks a whole case.
    pub fn of(self, whole: &str) -> Vec<u8> {
        let with = |from: &str, to: &str| whole.replacen(from, to, 1).into_bytes();
        match self {
            Breakage::BracketOpen => with("prepared: {", "prepared: [{"),
            Breakage::ForeignAmount => with("tax_before_credits: ", "tax_before_credits: 1.250,00 #"),
            Breakage::Misspelt => with("prepared:", "preparred:"),
            Breakage::NoStatus => with("    filing_status: ", "    # "),
            Breakage::TaxpayerNumber => with("homes:", "# 987-65-4321\nhomes:"),
            Breakage::Truncated => {
                let half = whole.as_bytes()[..whole.len() / 2].iter().rposition(|byte| *byte == b'{');
                whole.as_bytes()[..=half.unwrap_or(0)].to_vec()
            }
            Breakage::NotUtf8 => {
                let at = whole.find("name: ").map_or(0, |at| at + 6);
                [&whole.as_bytes()[..at], b"Ren\xE9 ", &whole.as_bytes()[at..]].concat()
            }
            Breakage::Utf16 => {
                [0xFEFF].into_iter().chain(whole.encode_utf16()).flat_map(u16::to_le_bytes).collect()
            }
            Breakage::Empty => Vec::new(),
            Breakage::Twice => with("format: 1\n", "format: 1\nformat: 1\n"),
            Breakage::NoSuchDay => with("on: 2026-11-", "on: 2026-13-"),
            Breakage::Backwards => with("prepared: ", "reviewed: {by: M. Cedar, on: 2019-01-07}\nprepared: "),
            Breakage::NoSuchHome => with("    home: ", "    home: no-such-"),
            Breakage::DiscountAbove => {
                let (list, row) =
                    ("    costs:\n", "      - {item: early order, as: discount, amount: 900000}\n");
                match whole.contains(list) {
                    true => with(list, &format!("{list}{row}")),
                    false => with("costs: [", "costs: [{item: early order, as: discount, amount: 900000}, "),
                }
            }
            Breakage::NoSuchKind => with("    kind: ", "    kind: shiny_"),
            Breakage::Tab => with("\n  reference", "\n\treference"),
        }
    }
}
