//! Frequencies: reading, printing, bands and rasters against their definitions.

#![allow(clippy::unwrap_used)]

use proptest::prelude::*;
use sidon::Error;
use sidon::frequency::{
    Band, Raster, Unit, format_mhz, intersect, merge, parse_hz, parse_with_unit, shrink, subtract,
    union,
};

fn why(text: &str) -> String {
    match parse_hz(text) {
        Err(Error::Unreadable { what, why, remedy }) => {
            assert!(what.starts_with("frequency") && !remedy.is_empty());
            why
        }
        other => panic!("{text:?} gave {other:?}"),
    }
}

#[test]
fn texts_are_read_exactly() {
    for (text, hz) in [
        ("518.125 MHz", 518_125_000),
        ("518125 kHz", 518_125_000),
        ("518_125_000 Hz", 518_125_000),
        ("518125000hz", 518_125_000),
        ("518.125", 518_125_000),
        ("  518.125MHZ ", 518_125_000),
        ("25 kHz", 25_000),
        ("1.8 GHz", 1_800_000_000),
        ("1.000000001 GHz", 1_000_000_001),
        ("-166.667 kHz", -166_667),
        ("+0.125", 125_000),
        ("518.125_600", 518_125_600),
        ("518.1250000000 MHz", 518_125_000),
        ("3.0 Hz", 3),
        ("-9223372036854775808 Hz", i64::MIN),
        ("9223372036854775807 Hz", i64::MAX),
        // 0.1 + 0.2 style traps: neither value is a binary fraction.
        ("0.000003", 3),
        ("694.999999", 694_999_999),
    ] {
        assert_eq!(parse_hz(text).unwrap(), hz, "{text:?}");
    }
    assert_eq!(parse_with_unit("350", Unit::Kilohertz).unwrap(), 350_000);
    assert_eq!(parse_with_unit("518125000", Unit::Hertz).unwrap(), 518_125_000);
    assert_eq!(parse_with_unit("1 MHz", Unit::Hertz).unwrap(), 1_000_000);
    assert_eq!(parse_with_unit("2", Unit::Gigahertz).unwrap(), 2 * Unit::Gigahertz.hertz());
}

#[test]
fn bad_texts_say_why() {
    for text in ["518.1250001 MHz", "0.5 Hz", "1.0001 kHz", "518.125_000_1"] {
        assert_eq!(why(text), "it is finer than 1 Hz", "{text:?}");
    }
    for text in ["", "   ", "\t\n"] {
        assert_eq!(why(text), "it is empty");
    }
    for text in ["NaN", "inf", "-inf", "MHz", "+", "- 5 MHz", "--5", "e9"] {
        assert_eq!(why(text), "it does not begin with a number", "{text:?}");
    }
    for text in ["5.18125e8", "518e6 Hz", "1E-3", "5e+8Hz"] {
        assert_eq!(why(text), "it has an exponent", "{text:?}");
    }
    for text in ["518.", ".5", "1..2", "1.2.3", "_5", "5_", "5__0", "5_.1", "5._1", "."] {
        assert_eq!(why(text), "a digit is missing beside its point or underscore", "{text:?}");
    }
    for text in ["518 THz", "518 M", "518 MHz extra", "518 125 000 Hz", "5é", "518e"] {
        assert!(why(text).ends_with("is not a unit of frequency"), "{text:?}");
    }
    assert_eq!(why("518,125"), "it has a comma");
    for text in ["9223372036854775808 Hz", "9223372036854.775808", "99999999999 GHz"] {
        assert_eq!(why(text), "it does not fit 64 bits of hertz", "{text:?}");
    }
    let long = "9".repeat(100_000);
    assert!(parse_hz(&long).unwrap_err().to_string().len() < 200);
}

#[test]
fn printing_shows_what_is_needed() {
    for (hz, text) in [
        (0, "0.000 MHz"),
        (1, "0.000001 MHz"),
        (-1, "-0.000001 MHz"),
        (25_000, "0.025 MHz"),
        (863_100_000, "863.100 MHz"),
        (518_125_600, "518.1256 MHz"),
        (1_800_000_000, "1800.000 MHz"),
        (i64::MIN, "-9223372036854.775808 MHz"),
    ] {
        assert_eq!(format_mhz(hz), text);
    }
}

/// Small lists of bands over 0..40, single frequencies and reversed ones among them.
fn bands() -> impl Strategy<Value = Vec<Band>> {
    let band =
        (0_i64..40, -1_i64..12).prop_map(|(low, width)| Band { low_hz: low, high_hz: low + width });
    prop::collection::vec(band, 0..7)
}

fn holds(bands: &[Band], frequency: i64) -> bool {
    bands.iter().any(|b| b.contains(frequency))
}

/// Whether the open cell between `k` and `k + 1` is covered.
fn covers_cell(bands: &[Band], k: i64) -> bool {
    bands.iter().any(|b| b.low_hz <= k && k < b.high_hz)
}

fn is_normal(bands: &[Band]) -> bool {
    bands.iter().all(|b| b.low_hz <= b.high_hz)
        && bands.windows(2).all(|pair| pair[0].high_hz < pair[1].low_hz)
}

proptest! {
    #[test]
    fn printed_frequencies_read_back(hz in any::<i64>()) {
        prop_assert_eq!(parse_hz(&format_mhz(hz)).unwrap(), hz);
        prop_assert_eq!(parse_hz(&format!("{hz} Hz")).unwrap(), hz);
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,24}", number in "[-+0-9._eE, kMGHhz]{0,16}") {
        let _ = parse_hz(&text);
        let _ = parse_hz(&number);
    }

    #[test]
    fn band_lists_match_their_sets(a in bands(), b in bands()) {
        let (joined, common, left) = (union(&a, &b), intersect(&a, &b), subtract(&a, &b));
        for list in [&joined, &common, &left, &merge(&a)] {
            prop_assert!(is_normal(list), "{list:?}");
        }
        for f in -2..55 {
            prop_assert_eq!(holds(&merge(&a), f), holds(&a, f));
            prop_assert_eq!(holds(&joined, f), holds(&a, f) || holds(&b, f));
            prop_assert_eq!(holds(&common, f), holds(&a, f) && holds(&b, f));
            // An edge has no width: a difference is decided between the whole numbers.
            prop_assert_eq!(covers_cell(&left, f), covers_cell(&a, f) && !covers_cell(&b, f));
        }
        for band in left.iter().filter(|band| band.low_hz == band.high_hz) {
            prop_assert!(merge(&a).contains(band) && !holds(&b, band.low_hz));
        }
        prop_assert_eq!(subtract(&left, &b), left);
    }

    #[test]
    fn shrinking_keeps_what_has_the_margin_around_it(a in bands(), margin in 0_i64..4) {
        let inner = shrink(&a, margin);
        prop_assert!(is_normal(&inner));
        let spectrum = merge(&a);
        for f in -2..55 {
            let fits = spectrum.iter().any(|b| b.low_hz <= f - margin && f + margin <= b.high_hz);
            prop_assert_eq!(holds(&inner, f), fits);
        }
        let wider = shrink(&a, -margin);
        for f in -6..60 {
            let near = spectrum.iter().any(|b| b.low_hz - margin <= f && f <= b.high_hz + margin);
            prop_assert_eq!(holds(&wider, f), near);
        }
    }

    #[test]
    fn rasters_match_their_definition(
        step in 1_i64..9, origin in -20_i64..20, low in -30_i64..30, width in 0_i64..30,
    ) {
        let raster = Raster::new(step, origin).unwrap();
        let on: Vec<i64> = (-20..40).map(|k| origin + k * step).collect();
        let band = Band::new(low, low + width).unwrap();
        let all: Vec<i64> = (low..=low + width).filter(|&f| raster.contains(f)).collect();
        prop_assert_eq!(raster.candidates(&band).unwrap(), all);
        for f in low..=low + width {
            prop_assert_eq!(raster.contains(f), (f - origin).rem_euclid(step) == 0);
            let below = raster.at_or_below(f).unwrap();
            let above = raster.at_or_above(f).unwrap();
            prop_assert!(raster.contains(below) && raster.contains(above));
            prop_assert!(f - step < below && below <= f && f <= above && above < f + step);
            let nearest = raster.nearest(f).unwrap();
            prop_assert!(on.iter().all(|&g| (f - nearest).abs() <= (f - g).abs()));
            prop_assert!(2 * (f - nearest) <= step && 2 * (nearest - f) < step);
        }
    }
}

#[test]
fn a_six_megahertz_channel_keeps_232_steps_inside_its_guards() {
    // Carriers at least 100 kHz inside both edges of a 6 MHz channel have 232 steps of 25 kHz;
    // source: arithmetic. TV channels 14 and 16 beside it: 470 + 6 (n - 14) MHz, 47 CFR 73.603.
    let mhz = 1_000_000;
    let all = [Band::new(470 * mhz, 488 * mhz).unwrap()];
    let occupied =
        [Band::new(470 * mhz, 476 * mhz).unwrap(), Band::new(482 * mhz, 488 * mhz).unwrap()];
    let free = subtract(&all, &occupied);
    assert_eq!(free, [Band::new(476 * mhz, 482 * mhz).unwrap()]);
    let carriers = shrink(&free, 100_000);
    let raster = Raster::new(25_000, 470 * mhz).unwrap();
    assert_eq!(raster.candidates(&carriers[0]).unwrap().len(), 233);
}

#[test]
fn rasters_and_bands_refuse_nonsense() {
    assert!(matches!(Raster::new(0, 0), Err(Error::Invalid(_))));
    assert!(matches!(Raster::new(-25_000, 0), Err(Error::Invalid(_))));
    assert!(matches!(Band::new(2, 1), Err(Error::Invalid(_))));
    let every_hertz = Raster::new(1, 0).unwrap();
    let everything = Band::new(i64::MIN, i64::MAX).unwrap();
    assert!(matches!(every_hertz.candidates(&everything), Err(Error::TooLarge { .. })));
    let coarse = Raster::new(i64::MAX, i64::MAX).unwrap();
    assert!(coarse.contains(0) && coarse.contains(i64::MAX) && coarse.contains(-i64::MAX));
    assert_eq!(coarse.at_or_below(i64::MIN), None);
    assert_eq!(coarse.candidates(&everything).unwrap(), [-i64::MAX, 0, i64::MAX]);
    assert!(every_hertz.candidates(&Band { low_hz: 3, high_hz: 2 }).unwrap().is_empty());
}
