//! How a tested volume was got: each way by its name, in words, with what it takes for granted.

macro_rules! methods {
    ($($(#[$doc:meta])* $name:ident => $words:literal, $assumptions:expr;)+) => {
        /// How a tested volume was got.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[non_exhaustive]
        pub enum Method {
            $($(#[$doc])* $name,)+
        }

        impl Method {
            /// Every method.
            pub const ALL: &[Self] = &[$(Self::$name),+];

            /// The method in words.
            #[must_use]
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$name => $words,)+
                }
            }

            /// What the method takes for granted, a sentence each.
            #[must_use]
            pub const fn assumptions(self) -> &'static [&'static str] {
                match self {
                    $(Self::$name => $assumptions,)+
                }
            }
        }
    };
}

methods! {
    /// Geometry: [`TestedVolume::from_engine`](crate::volume::TestedVolume::from_engine).
    EngineDimensions => "computed from the engine's dimensions", &[
    "crank axis in line with the bore",
    "the compression ratios are geometric, over the full stroke, and allow for the crown's shape",
    "with the transfers shut, no gas passes the rings into the space above",
];
    /// Displacement and what is typical: [`TestedVolume::from_outline`](crate::volume::TestedVolume::from_outline).
    EngineOutline => "from the engine's size and what is typical of two-stroke engines", &[
    "the displacement is that of the one cylinder whose crankcase is under test",
    "what is not stated is as in most small two-stroke engines",
    "with the transfers shut, no gas passes the rings into the space above",
];
    /// Measured as a whole: [`TestedVolume::measured_directly`](crate::volume::TestedVolume::measured_directly).
    MeasuredDirectly => "measured directly, rig included", &["the number is of the space as it is tested: same piston position, hose and gauge"];
    /// Gas let in from a known volume: [`TestedVolume::from_expansion`](crate::volume::TestedVolume::from_expansion).
    Expansion => "expansion from a known volume", &[
    "ideal gas, the same on both sides, back at its first temperature to within what is stated",
    "the tested side held gas of ambient pressure before the valve was opened",
    "both readings with the same gauge, whose own volume belongs to the reference side",
    "nothing leaked between the two readings, and no hose or boot gave way",
];
    /// The piston as its own pump: [`TestedVolume::from_rotation`](crate::volume::TestedVolume::from_rotation).
    CrankRotation => "crank turned with the transfers shut", &[
    "ideal gas, back at its first temperature to within what is stated",
    "transfer ports shut at both crank angles and between them, nothing passes the rings",
    "nothing leaked between the two readings beyond the loss that is stated",
    "crank axis in line with the bore; the gauge's own volume belongs to the case side",
    "both readings with the same gauge",
];
    /// Strokes of a pump: [`TestedVolume::from_strokes`](crate::volume::TestedVolume::from_strokes).
    PumpStrokes => "counted pump strokes", &[
    "ideal gas, back at its first temperature to within what is stated",
    "pumped from ambient pressure, every stroke full, its valve tight",
    "nothing leaked between the first stroke and the reading",
    "all readings with the same gauge",
];
    /// A known leak beside the unknown one: [`TestedVolume::from_added_leak`](crate::volume::TestedVolume::from_added_leak).
    AddedLeak => "known leak added to the unknown one", &[
    "both leaks pass gas as orifices do, and the unknown one is the same in both runs",
    "both runs over the same range of pressures, with the volume and the piston as they were",
    "the gas constant is that of the gas named (moist air at 20 °C has up to 0.9 % more, V up to 0.4 %)",
    "gas and ambient at the stated temperature in both runs",
];
    /// Filled with a liquid and weighed: [`TestedVolume::from_fill`](crate::volume::TestedVolume::from_fill).
    LiquidFill => "filled with a liquid and weighed", &[
    "the liquid fills the tested space and nothing else, but for the trapped air that is stated",
    "weighed empty and full on the same balance, calibrated with weights of 8000 kg/m3",
    "the liquid has the stated temperature, and the case the size that it has in the test",
    "nothing soaks in: seals, gaskets and ring lands take up no liquid",
];
    /// Shapes added and subtracted: [`TestedVolume::from_parts_list`](crate::volume::TestedVolume::from_parts_list).
    PartsList => "added up from its parts", &[
    "each piece has the shape named; fillets, ribs and bolt heads that are not listed are left out",
    "no two spaces overlap, and each solid lies wholly inside a space",
    "all lengths with one caliper, whose scale they share",
];
    /// Weighted mean of several: [`Combined::tested`](crate::volume::Combined::tested).
    Combined => "combined from several methods", &[
    "all volumes are of the same space: same piston position, hose and gauge",
    "inputs that methods share are independent, but for those named as shared",
    "where the methods scatter more than they should, all their uncertainties are too small by the same factor",
];
}

impl std::fmt::Display for Method {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.words())
    }
}
