#![no_main]
libfuzzer_sys::fuzz_target!(|data: &[u8]| platewright_fuzz::amounts(data));
