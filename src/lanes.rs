//! Several poses at once: packs of numbers for the machine's vector instructions, chosen once at run time.
//!
//! The one place in the crate where `unsafe` is allowed, for two reasons. The operations of a pack are machine
//! instructions that must not run on a machine that lacks them; a pack is therefore only ever made inside
//! [`Level::run`], which runs work under the instructions of its level, and a [`Level`] comes only from
//! [`Level::best`], [`Level::all`] and [`Level::named`], which ask the machine. And loads and stores go through pointers, whose slices
//! are checked to be long enough first; stores past the caches go to whole packs' places, and a fence follows them before
//! anyone else is told of what was stored. To fetch memory that will be written is a hint, which changes nothing.
//!
//! Each operation of a pack is the same correctly rounded IEEE operation in every lane as `f64` has it, none is fused,
//! so that the same bits come out at every level.
#![allow(unsafe_code)]

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

use crate::angle;
use crate::number::{Angular, Number, Over, Pack};

/// A set of vector instructions that this machine has.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Level(Kind);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    #[cfg(target_arch = "x86_64")]
    Avx512,
    #[cfg(target_arch = "x86_64")]
    Avx2,
    #[cfg(target_arch = "aarch64")]
    Neon,
    Portable,
}

impl Kind {
    const ALL: &'static [Self] = &[
        #[cfg(target_arch = "x86_64")]
        Self::Avx512,
        #[cfg(target_arch = "x86_64")]
        Self::Avx2,
        #[cfg(target_arch = "aarch64")]
        Self::Neon,
        Self::Portable,
    ];

    fn is_here(self) -> bool {
        match self {
            #[cfg(target_arch = "x86_64")]
            Self::Avx512 => is_x86_feature_detected!("avx512f") && is_x86_feature_detected!("avx512dq"),
            #[cfg(target_arch = "x86_64")]
            Self::Avx2 => is_x86_feature_detected!("avx2"),
            #[cfg(target_arch = "aarch64")]
            Self::Neon => std::arch::is_aarch64_feature_detected!("neon"),
            Self::Portable => true,
        }
    }
}

/// Something to be done on packs of whatever width the machine has.
pub trait Work {
    /// What it gives.
    type Result;

    /// Do it. Has to be marked `#[inline(always)]`, and all that it calls in its hot path: only what ends up inside
    /// [`Level::run`] is compiled for the level's instructions.
    fn run<N: Pack>(self) -> Self::Result;
}

impl Level {
    /// The widest that this machine has.
    pub fn best() -> Self {
        let widest = Kind::ALL.iter().copied().find(|kind| kind.is_here());
        Self(widest.unwrap_or(Kind::Portable))
    }

    /// Every level that this machine has, the widest first.
    pub fn all() -> impl Iterator<Item = Self> {
        Kind::ALL.iter().copied().filter(|kind| kind.is_here()).map(Self)
    }

    /// The level of this name, if this machine has it.
    pub fn named(name: &str) -> Option<Self> {
        Self::all().find(|level| level.name() == name)
    }

    /// `avx512`, `avx2`, `neon` or `portable`.
    pub const fn name(self) -> &'static str {
        match self.0 {
            #[cfg(target_arch = "x86_64")]
            Kind::Avx512 => "avx512",
            #[cfg(target_arch = "x86_64")]
            Kind::Avx2 => "avx2",
            #[cfg(target_arch = "aarch64")]
            Kind::Neon => "neon",
            Kind::Portable => "portable",
        }
    }

    /// Poses in a pack.
    pub const fn lanes(self) -> usize {
        match self.0 {
            #[cfg(target_arch = "x86_64")]
            Kind::Avx512 => 8,
            #[cfg(target_arch = "x86_64")]
            Kind::Avx2 => 4,
            #[cfg(target_arch = "aarch64")]
            Kind::Neon => 2,
            Kind::Portable => 1,
        }
    }

    /// Do some work on packs of this level.
    pub fn run<W: Work>(self, work: W) -> W::Result {
        match self.0 {
            // SAFETY: a level exists only where the machine was asked for its instructions.
            #[cfg(target_arch = "x86_64")]
            Kind::Avx512 => unsafe { x86::run_avx512(work) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Kind::Avx2 => unsafe { x86::run_avx2(work) },
            // SAFETY: as above.
            #[cfg(target_arch = "aarch64")]
            Kind::Neon => unsafe { arm::run_neon(work) },
            Kind::Portable => work.run::<f64>(),
        }
    }
}

impl fmt::Debug for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Declare a pack over a vector type: its operations by intrinsics, one for one.
macro_rules! pack {
    (
        $name:ident, $vector:ty, $lanes:literal,
        splat $splat:ident, load $load:ident, store $store:ident,
        add $add:ident, sub $sub:ident, mul $mul:ident, div $div:ident, sqrt $sqrt:ident,
        neg $neg:expr, magnitude $magnitude:expr, with_sign_of $sign:expr,
        choose_less $choose:expr, at_least $at_least:expr
        $(, fetch_to_write $fetch:ident, past_caches $stream:ident, fence $fence:ident)?
    ) => {
        #[doc = concat!(stringify!($lanes), " numbers side by side.")]
        #[derive(Clone, Copy)]
        pub(super) struct $name($vector);

        // SAFETY of every block below: packs exist only under the instructions of their level, see the head of the file.
        impl std::fmt::Debug for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                let mut lanes = [0.0; $lanes];
                self.store(&mut lanes);
                lanes.fmt(f)
            }
        }

        impl Add for $name {
            type Output = Self;
            #[inline(always)]
            fn add(self, other: Self) -> Self {
                Self(unsafe { $add(self.0, other.0) })
            }
        }

        impl Sub for $name {
            type Output = Self;
            #[inline(always)]
            fn sub(self, other: Self) -> Self {
                Self(unsafe { $sub(self.0, other.0) })
            }
        }

        impl Mul for $name {
            type Output = Self;
            #[inline(always)]
            fn mul(self, other: Self) -> Self {
                Self(unsafe { $mul(self.0, other.0) })
            }
        }

        impl Div for $name {
            type Output = Self;
            #[inline(always)]
            fn div(self, other: Self) -> Self {
                Self(unsafe { $div(self.0, other.0) })
            }
        }

        impl Neg for $name {
            type Output = Self;
            #[inline(always)]
            fn neg(self) -> Self {
                Self(unsafe { $neg(self.0) })
            }
        }

        impl Number for $name {
            #[inline(always)]
            fn constant(value: f64) -> Self {
                Self(unsafe { $splat(value) })
            }

            #[inline(always)]
            fn sqrt(self) -> Self {
                Self(unsafe { $sqrt(self.0) })
            }

            #[inline(always)]
            fn recip(self) -> Self {
                Self(unsafe { $div($splat(1.0), self.0) })
            }

            #[inline(always)]
            fn sign(self) -> Self {
                Self::constant(1.0).with_sign_of(self)
            }
        }

        impl Angular for $name {
            #[inline(always)]
            fn sine_and_cosine(self) -> (Self, Self) {
                angle::sine_and_cosine(self)
            }

            #[inline(always)]
            fn arc_tangent(self, x: Self) -> Self {
                angle::arc_tangent(self, x)
            }
        }

        impl Over<f64> for $name {
            #[inline(always)]
            fn of(value: f64) -> Self {
                Self::constant(value)
            }
        }

        impl Pack for $name {
            const LANES: usize = $lanes;

            #[inline(always)]
            fn load(from: &[f64]) -> Self {
                assert!(from.len() >= $lanes);
                Self(unsafe { $load(from.as_ptr()) })
            }

            #[inline(always)]
            fn store(self, to: &mut [f64]) {
                assert!(to.len() >= $lanes);
                unsafe { $store(to.as_mut_ptr(), self.0) }
            }

            $(
                #[inline(always)]
                fn fetch_to_write(to: &[f64]) {
                    $fetch(to.as_ptr());
                }

                #[inline(always)]
                fn copy_past_caches<'a>(strips: impl Iterator<Item = (&'a [f64], &'a mut [f64])>) {
                    for (from, to) in strips {
                        assert_eq!(from.len(), to.len());
                        let bytes = $lanes * size_of::<f64>();
                        let to_place = to.as_ptr().addr().wrapping_neg() % bytes / size_of::<f64>();
                        let to_place = to_place.min(to.len());
                        let (from_first, from) = from.split_at(to_place);
                        let (first, to) = to.split_at_mut(to_place);
                        first.copy_from_slice(from_first);
                        let (from_packs, from_last) = from.as_chunks::<$lanes>();
                        let (packs, last) = to.as_chunks_mut::<$lanes>();
                        for (from, to) in from_packs.iter().zip(packs) {
                            unsafe { $stream(to.as_mut_ptr(), $load(from.as_ptr())) }
                        }
                        last.copy_from_slice(from_last);
                    }
                    unsafe { $fence() }
                }
            )?

            #[inline(always)]
            fn choose_less(a: Self, b: Self, then: Self, otherwise: Self) -> Self {
                Self(unsafe { $choose(a.0, b.0, then.0, otherwise.0) })
            }

            #[inline(always)]
            fn magnitude(self) -> Self {
                Self(unsafe { $magnitude(self.0) })
            }

            #[inline(always)]
            fn with_sign_of(self, other: Self) -> Self {
                Self(unsafe { $sign(self.0, other.0) })
            }

            #[inline(always)]
            fn at_least(self, least: Self) -> u32 {
                unsafe { $at_least(self.0, least.0) }
            }
        }
    };
}

#[cfg(target_arch = "x86_64")]
mod x86 {
    use std::arch::asm;
    #[allow(clippy::wildcard_imports)]
    use std::arch::x86_64::*;

    use super::{Add, Angular, Div, Mul, Neg, Number, Over, Pack, Sub, Work, angle};

    #[target_feature(enable = "avx512f,avx512dq")]
    pub(super) fn run_avx512<W: Work>(work: W) -> W::Result {
        work.run::<Eight>()
    }

    #[target_feature(enable = "avx2")]
    pub(super) fn run_avx2<W: Work>(work: W) -> W::Result {
        work.run::<Four>()
    }

    /// Fetch a line of the cache as one that will be written. The intrinsic for it becomes a fetch to read where the
    /// compiler is not told of one more instruction set; processors of 64 bits that lack the instruction pass over it.
    #[inline(always)]
    #[allow(clippy::pointers_in_nomem_asm_block)] // Nothing is read there or written.
    fn fetch_to_write(at: *const f64) {
        // SAFETY: reads and writes nothing, and no address is wrong.
        unsafe { asm!("prefetchw [{}]", in(reg) at, options(nomem, nostack, preserves_flags)) }
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn neg_8(a: __m512d) -> __m512d {
        _mm512_xor_pd(a, _mm512_set1_pd(-0.0))
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn magnitude_8(a: __m512d) -> __m512d {
        _mm512_andnot_pd(_mm512_set1_pd(-0.0), a)
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn sign_8(a: __m512d, of: __m512d) -> __m512d {
        let sign = _mm512_set1_pd(-0.0);
        _mm512_or_pd(_mm512_andnot_pd(sign, a), _mm512_and_pd(sign, of))
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn choose_8(a: __m512d, b: __m512d, then: __m512d, otherwise: __m512d) -> __m512d {
        _mm512_mask_blend_pd(_mm512_cmp_pd_mask::<_CMP_LT_OQ>(a, b), otherwise, then)
    }

    #[inline]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn at_least_8(a: __m512d, least: __m512d) -> u32 {
        u32::from(_mm512_cmp_pd_mask::<_CMP_GE_OQ>(a, least))
    }

    #[inline]
    #[target_feature(enable = "avx2")]
    fn neg_4(a: __m256d) -> __m256d {
        _mm256_xor_pd(a, _mm256_set1_pd(-0.0))
    }

    #[inline]
    #[target_feature(enable = "avx2")]
    fn magnitude_4(a: __m256d) -> __m256d {
        _mm256_andnot_pd(_mm256_set1_pd(-0.0), a)
    }

    #[inline]
    #[target_feature(enable = "avx2")]
    fn sign_4(a: __m256d, of: __m256d) -> __m256d {
        let sign = _mm256_set1_pd(-0.0);
        _mm256_or_pd(_mm256_andnot_pd(sign, a), _mm256_and_pd(sign, of))
    }

    #[inline]
    #[target_feature(enable = "avx2")]
    fn choose_4(a: __m256d, b: __m256d, then: __m256d, otherwise: __m256d) -> __m256d {
        _mm256_blendv_pd(otherwise, then, _mm256_cmp_pd::<_CMP_LT_OQ>(a, b))
    }

    #[inline]
    #[target_feature(enable = "avx2")]
    fn at_least_4(a: __m256d, least: __m256d) -> u32 {
        // Four bits, never negative.
        #[allow(clippy::cast_sign_loss)]
        let bits = _mm256_movemask_pd(_mm256_cmp_pd::<_CMP_GE_OQ>(a, least)) as u32;
        bits
    }

    pack!(
        Eight, __m512d, 8,
        splat _mm512_set1_pd, load _mm512_loadu_pd, store _mm512_storeu_pd,
        add _mm512_add_pd, sub _mm512_sub_pd, mul _mm512_mul_pd, div _mm512_div_pd, sqrt _mm512_sqrt_pd,
        neg neg_8, magnitude magnitude_8, with_sign_of sign_8, choose_less choose_8, at_least at_least_8,
        fetch_to_write fetch_to_write, past_caches _mm512_stream_pd, fence _mm_sfence
    );

    pack!(
        Four, __m256d, 4,
        splat _mm256_set1_pd, load _mm256_loadu_pd, store _mm256_storeu_pd,
        add _mm256_add_pd, sub _mm256_sub_pd, mul _mm256_mul_pd, div _mm256_div_pd, sqrt _mm256_sqrt_pd,
        neg neg_4, magnitude magnitude_4, with_sign_of sign_4, choose_less choose_4, at_least at_least_4,
        fetch_to_write fetch_to_write, past_caches _mm256_stream_pd, fence _mm_sfence
    );
}

#[cfg(target_arch = "aarch64")]
mod arm {
    #[allow(clippy::wildcard_imports)]
    use std::arch::aarch64::*;

    use super::{Add, Angular, Div, Mul, Neg, Number, Over, Pack, Sub, Work, angle};

    #[target_feature(enable = "neon")]
    pub(super) fn run_neon<W: Work>(work: W) -> W::Result {
        work.run::<Two>()
    }

    #[inline]
    #[target_feature(enable = "neon")]
    fn sign_2(a: float64x2_t, of: float64x2_t) -> float64x2_t {
        vbslq_f64(vdupq_n_u64(1 << 63), of, a)
    }

    #[inline]
    #[target_feature(enable = "neon")]
    fn choose_2(a: float64x2_t, b: float64x2_t, then: float64x2_t, otherwise: float64x2_t) -> float64x2_t {
        vbslq_f64(vcltq_f64(a, b), then, otherwise)
    }

    #[inline]
    #[target_feature(enable = "neon")]
    fn at_least_2(a: float64x2_t, least: float64x2_t) -> u32 {
        let lanes = vcgeq_f64(a, least);
        u32::from(vgetq_lane_u64::<0>(lanes) != 0) | u32::from(vgetq_lane_u64::<1>(lanes) != 0) << 1
    }

    pack!(
        Two, float64x2_t, 2,
        splat vdupq_n_f64, load vld1q_f64, store vst1q_f64,
        add vaddq_f64, sub vsubq_f64, mul vmulq_f64, div vdivq_f64, sqrt vsqrtq_f64,
        neg vnegq_f64, magnitude vabsq_f64, with_sign_of sign_2, choose_less choose_2, at_least at_least_2
    );
}
