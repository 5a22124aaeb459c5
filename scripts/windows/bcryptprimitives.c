// Go's programs take their randomness from bcryptprimitives.dll, which every Windows since 7 has and Debian 12's Wine lacks.
// This stands in for it under Wine, for trying the program only; it is no part of what is installed.
#include <windows.h>
#include <ntsecapi.h>

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE data, SIZE_T n) {
  while (n > 0) {
    ULONG part = n > 1 << 20 ? 1 << 20 : (ULONG)n;
    if (!RtlGenRandom(data, part)) return FALSE;
    data += part;
    n -= part;
  }
  return TRUE;
}
