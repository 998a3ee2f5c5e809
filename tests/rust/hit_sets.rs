//! Hits of sets known from the literature: rulers, progression-free sets, sets of distinct sums.

#![allow(clippy::unwrap_used, clippy::print_stderr)]

use sidon::Error;
use sidon::product::{Form, hit_counts, hits};

use crate::hits::benchmark;

/// Optimal Golomb rulers of 2 to 28 marks. Lengths: OEIS A003022; marks of 2 to 14: OEIS A106683;
/// of 15 to 28 from memory and the literature. Each is checked here: a wrong mark would show.
const RULERS: [&str; 27] = [
    "0 1",
    "0 1 3",
    "0 1 4 6",
    "0 1 4 9 11",
    "0 1 4 10 12 17",
    "0 1 4 10 18 23 25",
    "0 1 4 9 15 22 32 34",
    "0 1 5 12 25 27 35 41 44",
    "0 1 6 10 23 26 34 41 53 55",
    "0 1 4 13 28 33 47 54 64 70 72",
    "0 2 6 24 29 40 43 55 68 75 76 85",
    "0 2 5 25 37 43 59 70 85 89 98 99 106",
    "0 4 6 20 35 52 59 77 78 86 89 99 122 127",
    "0 4 20 30 57 59 62 76 100 111 123 136 144 145 151",
    "0 1 4 11 26 32 56 68 76 115 117 134 150 163 168 177",
    "0 5 7 17 52 56 67 80 81 100 122 138 159 165 168 191 199",
    "0 2 10 22 53 56 82 83 89 98 130 148 153 167 188 192 205 216",
    "0 1 6 25 32 72 100 108 120 130 153 169 187 190 204 231 233 242 246",
    "0 1 8 11 68 77 94 116 121 156 158 179 194 208 212 228 240 253 259 283",
    "0 2 24 56 77 82 83 95 129 144 179 186 195 255 265 285 293 296 310 329 333",
    "0 1 9 14 43 70 106 122 124 128 159 179 204 223 253 263 270 291 330 341 353 356",
    "0 3 7 17 61 66 91 99 114 159 171 199 200 226 235 246 277 316 329 348 350 366 372",
    "0 9 33 37 38 97 122 129 140 142 152 191 205 208 252 278 286 326 332 353 368 384 403 425",
    "0 12 29 39 72 91 146 157 160 161 166 191 207 214 258 290 316 354 372 394 396 431 459 467 480",
    "0 1 33 83 104 110 124 163 185 200 203 249 251 258 314 318 343 356 386 430 440 456 464 475 487 492",
    "0 3 15 41 66 95 97 106 142 152 220 221 225 242 295 330 338 354 382 388 402 415 486 504 523 546 553",
    "0 3 15 41 66 95 97 106 142 152 220 221 225 242 295 330 338 354 382 388 402 415 486 504 523 546 553 585",
];

/// Lengths of optimal Golomb rulers of 2 to 28 marks, OEIS A003022.
const LENGTHS: [i64; 27] = [
    1, 3, 6, 11, 17, 25, 34, 44, 55, 72, 85, 106, 127, 151, 177, 199, 216, 246, 283, 333, 356, 372,
    425, 480, 492, 553, 585,
];

fn form(text: &str) -> Form {
    text.parse().unwrap()
}

fn marks(text: &str) -> Vec<i64> {
    text.split_whitespace().map(|m| m.parse().unwrap()).collect()
}

/// Channel numbers on a raster of 25 kHz.
fn carriers(channels: &[i64]) -> Vec<i64> {
    channels.iter().map(|c| 470_000_000 + 25_000 * c).collect()
}

/// The hits of these forms when only exact coincidence counts.
fn coincidences(channels: &[i64], forms: &[Form]) -> usize {
    let guards: Vec<(Form, i64)> = forms.iter().map(|f| (f.clone(), 1)).collect();
    let listed = hits(&carriers(channels), &guards).unwrap();
    let counted: u64 = hit_counts(&carriers(channels), &guards).unwrap().iter().flatten().sum();
    assert_eq!(listed.len() as u64, counted);
    listed.len()
}

#[test]
fn golomb_rulers_have_no_third_order_hit() {
    for (text, length) in RULERS.iter().zip(LENGTHS) {
        let ruler = marks(text);
        assert_eq!(ruler[ruler.len() - 1], length);
        assert_eq!(coincidences(&ruler, &Form::all(3)), 0, "{text}");
        // With a guard of one whole step nothing nearer than the step may appear either.
        for raster in [1, 7, 25_000, 350_000] {
            let f: Vec<i64> = ruler.iter().map(|m| 470_000_000 + m * raster).collect();
            let guards = [(form("2A-B"), raster), (form("A+B-C"), raster)];
            assert!(hits(&f, &guards).unwrap().is_empty(), "{text} on {raster} Hz");
        }
    }
}

#[test]
fn a_ruler_with_a_repeated_difference_has_a_hit() {
    for text in &RULERS[1..] {
        let ruler = marks(text);
        let last = ruler.len() - 1;
        let mut midpoint = ruler.clone();
        midpoint[last] = 2 * ruler[1] - ruler[0];
        assert!(coincidences(&midpoint, &[form("2A-B")]) >= 2, "{text}");
        if ruler.len() > 3 {
            let mut parallel = ruler.clone();
            parallel[last] = ruler[1] + ruler[2] - ruler[0];
            // The repeated difference is a hit on each of its four carriers.
            assert!(coincidences(&parallel, &[form("A+B-C")]) >= 4, "{text}");
        }
    }
}

#[test]
fn babcock_sets_have_no_third_order_hit() {
    // Babcock 1953, from memory: channel numbers of 3 to 10 carriers.
    for text in [
        "1 2 4",
        "1 2 5 7",
        "1 2 5 10 12",
        "1 2 5 11 13 18",
        "1 2 5 11 19 24 26",
        "1 2 5 10 16 23 33 35",
        "1 2 5 14 25 31 39 41 46",
        "1 2 8 12 27 40 48 57 60 62",
    ] {
        assert_eq!(coincidences(&marks(text), &Form::all(3)), 0, "{text}");
    }
}

#[test]
fn progression_free_sets_have_no_two_tone_hit() {
    // Optimal examples for 8, 12, 16 and 20 numbers, OEIS A065825: 14, 30, 41 and 63 channels.
    for text in [
        "1 2 4 5 10 11 13 14",
        "1 3 4 8 9 11 20 22 23 27 28 30",
        "1 2 4 5 10 11 13 14 28 29 31 32 37 38 40 41",
        "1 2 5 7 11 16 18 19 24 26 38 39 42 44 48 53 55 56 61 63",
    ] {
        assert_eq!(coincidences(&marks(text), &[form("2A-B")]), 0, "{text}");
        assert!(coincidences(&marks(text), &[form("A+B-C")]) > 0, "not Sidon sets");
    }
}

#[test]
fn sets_of_distinct_triple_sums_have_no_hit_up_to_fifth_order() {
    // B_3 sets of minimal length 4, 11, 23, 45, 82, OEIS A227358; sets by exhaustive search.
    let forms: Vec<Form> = [3, 5].into_iter().flat_map(Form::all).collect();
    for text in ["0 1 4", "0 1 7 11", "0 1 15 18 23", "0 2 11 26 42 45", "0 1 7 50 59 78 82"] {
        assert_eq!(coincidences(&marks(text), &forms), 0, "{text}");
    }
    // An optimal Golomb ruler of the same size is denser and pays in fifth order.
    assert!(coincidences(&marks(RULERS[5]), &forms) > 0);
}

#[test]
fn guarded_optima_keep_their_guards() {
    // Least distances s, g2 (2A-B), g3 (A+B-C) in steps; sets by exhaustive search.
    for (g2, g3, text) in [
        (2, 1, "0 2 8 19 28 33 40 43"),
        (2, 2, "0 4 20 32 42 50 56"),
        (3, 3, "0 3 12 30 54 69 75"),
        (4, 0, "0 14 32 46 68 82 100 114 140"),
        (4, 4, "0 14 40 70 88 122 166 188"),
        (4, 4, "0 14 66 106 136 154 180 216 238"),
    ] {
        let f = carriers(&marks(text));
        let count = |two: i64, three: i64| {
            hits(&f, &[(form("2A-B"), two), (form("A+B-C"), three)]).unwrap().len()
        };
        assert_eq!(count(g2 * 25_000, g3 * 25_000), 0, "{text}");
        assert!(count(g2 * 25_000 + 1, g3 * 25_000 + 1) > 0, "{text} is tight");
    }
}

#[test]
fn free_sets_of_the_benchmark_are_free() {
    // Benchmark golomb/im_free_min_length.json: an example set for every row of six rules.
    let Some(file) = benchmark("golomb/im_free_min_length.json") else { return };
    let up_to_fifth: Vec<Form> = [3, 5].into_iter().flat_map(Form::all).collect();
    let mut rows = 0;
    for (rule, forms) in [
        ("no_3AP", vec![form("2A-B")]),
        ("sidon", Form::all(3)),
        ("weak_sidon", vec![form("A+B-C")]),
        ("two_tone_im3_im5", vec![form("2A-B"), form("3A-2B")]),
        ("B3", up_to_fifth),
        ("two_tone_im3_im5_im7", vec![form("2A-B"), form("3A-2B"), form("4A-3B")]),
    ] {
        for row in file["tables"][rule]["rows"].as_array().unwrap() {
            let set: Vec<i64> =
                row["example"].as_array().unwrap().iter().map(|v| v.as_i64().unwrap()).collect();
            assert_eq!(coincidences(&set, &forms), 0, "{rule} {set:?}");
            rows += 1;
        }
    }
    assert!(rows > 80);
}

#[test]
fn rulers_of_the_benchmark_are_free() {
    let Some(file) = benchmark("golomb/golomb_rulers.json") else { return };
    let rulers = file["optimal"].as_array().unwrap();
    for ruler in rulers {
        let set: Vec<i64> =
            ruler["marks"].as_array().unwrap().iter().map(|v| v.as_i64().unwrap()).collect();
        assert_eq!(coincidences(&set, &Form::all(3)), 0);
    }
    assert_eq!(rulers.len(), 27);
}

#[test]
fn negative_guards_and_far_frequencies_are_all_named() {
    let f = [470_000_000, 2_000_000_000_000, i64::MIN, 480_000_000];
    let guards = [(form("2A-B"), 1), (form("A+B-C"), -5), (form("3A-2B"), i64::MIN)];
    let list = hits(&f, &guards).unwrap_err();
    let count = hit_counts(&f, &guards).unwrap_err();
    assert_eq!(list, count);
    let Error::Invalid(faults) = list else { panic!("{list:?}") };
    let places: Vec<&str> = faults.iter().map(|fault| fault.place.as_str()).collect();
    assert_eq!(places, ["frequencies_hz[1]", "frequencies_hz[2]", "guards[1]", "guards[2]"]);
    assert!(matches!(hits(&[], &guards), Err(Error::Invalid(faults)) if faults.len() == 2));
}
