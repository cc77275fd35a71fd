//! Division by the chip's own divider (RP2040 data sheet, 2.3.1.5): 8 cycles and the way there and back, where the
//! compiler's own way takes 160. These names are those that the compiler calls (Run-time ABI for the Arm Architecture,
//! 4.3.1); its own are weak and give way.
//!
//! Nothing that interrupts divides: a handler here does nothing but mask its own line, and the other core is never
//! started. So no result is taken away between asking and fetching.

use core::ptr;

const DIVIDEND_UNSIGNED: *mut u32 = 0xD000_0060 as *mut u32;
const DIVISOR_UNSIGNED: *mut u32 = 0xD000_0064 as *mut u32;
const DIVIDEND_SIGNED: *mut u32 = 0xD000_0068 as *mut u32;
const DIVISOR_SIGNED: *mut u32 = 0xD000_006C as *mut u32;
const QUOTIENT: *const u32 = 0xD000_0070 as *const u32;
const REMAINDER: *const u32 = 0xD000_0074 as *const u32;

/// Quotient in the low half, remainder in the high one: so the two come back in the first two registers.
#[expect(
    unsafe_code,
    reason = "the divider's registers; see the module's text for why nothing else uses them meanwhile"
)]
#[inline(always)]
fn divided(dividend_at: *mut u32, dividend: u32, divisor_at: *mut u32, divisor: u32) -> u64 {
    unsafe {
        ptr::write_volatile(dividend_at, dividend);
        ptr::write_volatile(divisor_at, divisor);
        // 8 cycles: four branches to the next instruction, two each.
        core::arch::asm!(
            "b 1f",
            "1: b 1f",
            "1: b 1f",
            "1: b 1f",
            "1:",
            options(nomem, nostack, preserves_flags)
        );
        // The quotient is read last: that ends the divider's turn.
        let remainder = ptr::read_volatile(REMAINDER);
        let quotient = ptr::read_volatile(QUOTIENT);
        u64::from(remainder) << 32 | u64::from(quotient)
    }
}

macro_rules! division {
    ($name:ident, $number:ty, $dividend:ident, $divisor:ident) => {
        #[expect(unsafe_code, reason = "the name that the compiler calls")]
        #[unsafe(no_mangle)]
        extern "aapcs" fn $name(dividend: $number, divisor: $number) -> u64 {
            divided($dividend, dividend as u32, $divisor, divisor as u32)
        }
    };
}
// A caller of the plain divisions looks at the first register alone.
division!(__aeabi_uidiv, u32, DIVIDEND_UNSIGNED, DIVISOR_UNSIGNED);
division!(__aeabi_uidivmod, u32, DIVIDEND_UNSIGNED, DIVISOR_UNSIGNED);
division!(__aeabi_idiv, i32, DIVIDEND_SIGNED, DIVISOR_SIGNED);
division!(__aeabi_idivmod, i32, DIVIDEND_SIGNED, DIVISOR_SIGNED);
