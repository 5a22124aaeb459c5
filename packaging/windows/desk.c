// phototrack-desk.exe: what the Start menu's entry runs. It starts phototrack.exe beside it without a console window, and ends.
// What goes wrong later the desk itself shows, in the browser or in a dialog.
#include <windows.h>
#include <wchar.h>

#define LONGEST 32768

static int trouble(const wchar_t *what) {
  MessageBoxW(NULL, what, L"phototrack", MB_OK | MB_ICONERROR | MB_SETFOREGROUND);
  return 1;
}

int WINAPI wWinMain(HINSTANCE instance, HINSTANCE before, PWSTR words, int show) {
  static wchar_t program[LONGEST], line[LONGEST + 64];
  DWORD n = GetModuleFileNameW(NULL, program, LONGEST);
  wchar_t *name = n > 0 && n < LONGEST ? wcsrchr(program, L'\\') : NULL;
  if (!name || name - program > LONGEST - 32) return trouble(L"phototrack could not be found. Install it again.");
  wcscpy(name + 1, L"phototrack.exe");
  _snwprintf(line, LONGEST + 63, L"\"%ls\" desk --from-menu", program);

  STARTUPINFOW start = {.cb = sizeof start};
  PROCESS_INFORMATION made;
  if (!CreateProcessW(program, line, NULL, NULL, FALSE, CREATE_NO_WINDOW, NULL, NULL, &start, &made))
    return trouble(L"phototrack.exe could not be started. It must lie beside phototrack-desk.exe; a virus scanner may have moved it away. Install phototrack again.");
  // The browser that it opens may come to the front.
  AllowSetForegroundWindow(made.dwProcessId);
  CloseHandle(made.hThread);
  CloseHandle(made.hProcess);
  (void)instance, (void)before, (void)words, (void)show;
  return 0;
}
