/* The one function of bcryptprimitives.dll that Rust's standard library takes, for Wines that have no such library. For
   these tests alone: every Windows since 7 has it. */
#include <windows.h>
#include <ntsecapi.h>

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE into, SIZE_T length) { return RtlGenRandom(into, (ULONG)length); }
