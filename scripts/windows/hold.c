// Holds a file open as a spreadsheet does, for trying what the program says to that: hold.exe FILE SECONDS
#include <stdio.h>
#include <stdlib.h>
#include <windows.h>

int wmain(int argc, wchar_t **argv) {
  if (argc != 3) return 2;
  HANDLE h = CreateFileW(argv[1], GENERIC_READ | GENERIC_WRITE, FILE_SHARE_READ, NULL, OPEN_EXISTING, FILE_ATTRIBUTE_NORMAL, NULL);
  if (h == INVALID_HANDLE_VALUE) return 1;
  puts("held");
  fflush(stdout);
  Sleep(1000 * (DWORD)_wtoi(argv[2]));
  return 0;
}
