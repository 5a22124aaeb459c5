; phototrack-setup.exe: installs for the user who runs it, without administrator rights.
;   makensis -DVERSION=0.1 -DFILES=DIR -DOUT=phototrack-setup.exe setup.nsi
; Collections are never touched, neither when it is installed nor when it is removed.
Target amd64-unicode
SetCompressor /SOLID lzma
SetCompressorDictSize 64
RequestExecutionLevel user
ManifestSupportedOS all
ManifestDPIAware true
Name "phototrack"
OutFile "${OUT}"
InstallDir "$LOCALAPPDATA\Programs\phototrack"
InstallDirRegKey HKCU "Software\phototrack" "Folder"
ShowInstDetails nevershow
ShowUninstDetails nevershow

!include "MUI2.nsh"
!include "FileFunc.nsh"
!define MUI_ICON "${FILES}\phototrack.ico"
!define MUI_UNICON "${FILES}\phototrack.ico"
!define UNINSTALL "Software\Microsoft\Windows\CurrentVersion\Uninstall\phototrack"

!define MUI_WELCOMEPAGE_TITLE "phototrack ${VERSION}"
!define MUI_WELCOMEPAGE_TEXT "phototrack measures photos of numbered potted plants, taken with a printed scale card, and says what really changed.$\r$\n$\r$\nIt is installed for you alone and needs no administrator. Your photos and collections are not touched.$\r$\n$\r$\nAn older phototrack is replaced; a desk that is open is closed."
!insertmacro MUI_PAGE_WELCOME
!insertmacro MUI_PAGE_DIRECTORY
!insertmacro MUI_PAGE_INSTFILES
!define MUI_FINISHPAGE_RUN "$INSTDIR\phototrack-desk.exe"
!define MUI_FINISHPAGE_RUN_TEXT "Open the desk now"
!define MUI_FINISHPAGE_TEXT "The desk opens from the Start menu: phototrack. It begins with a page on how to begin."
!insertmacro MUI_PAGE_FINISH
!insertmacro MUI_UNPAGE_CONFIRM
!insertmacro MUI_UNPAGE_INSTFILES
!insertmacro MUI_LANGUAGE "English"

; A desk that is open ends when its note is gone (it looks every two seconds); until then the program's file is in use.
!macro CloseDesk un
Function ${un}CloseDesk
	Delete "$LOCALAPPDATA\phototrack\phototrack-desk-*"
	StrCpy $1 0
	again:
	IfFileExists "$INSTDIR\phototrack.exe" 0 free
	ClearErrors
	FileOpen $0 "$INSTDIR\phototrack.exe" a
	IfErrors 0 opened
	IntOp $1 $1 + 1
	Sleep 500
	IntCmp $1 20 0 again
	MessageBox MB_RETRYCANCEL|MB_ICONEXCLAMATION "phototrack is at work. Wait until it has finished, or end it, and try again." /SD IDCANCEL IDRETRY retry
	SetErrorLevel 2
	Abort
	retry:
	StrCpy $1 0
	Goto again
	opened:
	FileClose $0
	free:
FunctionEnd
!macroend
!insertmacro CloseDesk ""
!insertmacro CloseDesk "un."

Section
	Call CloseDesk
	SetOutPath "$INSTDIR"
	File "${FILES}\phototrack.exe"
	File "${FILES}\phototrack-desk.exe"
	File "${FILES}\licences.txt"
	File "${FILES}\READ ME.txt"
	WriteUninstaller "$INSTDIR\uninstall.exe"

	SetOutPath "$PROFILE" ; where the Start menu's entries begin
	CreateDirectory "$SMPROGRAMS\phototrack"
	CreateShortcut "$SMPROGRAMS\phototrack\phototrack.lnk" "$INSTDIR\phototrack-desk.exe" "" "$INSTDIR\phototrack-desk.exe" 0 SW_SHOWNORMAL "" "Open the desk: look, mark and correct"
	CreateShortcut "$SMPROGRAMS\phototrack\phototrack command window.lnk" "$SYSDIR\cmd.exe" '/k set "PATH=$INSTDIR;%PATH%" && phototrack --help' "$INSTDIR\phototrack.exe" 0 SW_SHOWNORMAL "" "A window to type phototrack's commands in"
	SetOutPath "$INSTDIR"

	WriteRegStr HKCU "Software\phototrack" "Folder" "$INSTDIR"
	WriteRegStr HKCU "${UNINSTALL}" "DisplayName" "phototrack"
	WriteRegStr HKCU "${UNINSTALL}" "DisplayVersion" "${VERSION}"
	WriteRegStr HKCU "${UNINSTALL}" "DisplayIcon" "$INSTDIR\phototrack-desk.exe"
	WriteRegStr HKCU "${UNINSTALL}" "InstallLocation" "$INSTDIR"
	WriteRegStr HKCU "${UNINSTALL}" "UninstallString" '"$INSTDIR\uninstall.exe"'
	WriteRegStr HKCU "${UNINSTALL}" "QuietUninstallString" '"$INSTDIR\uninstall.exe" /S'
	WriteRegDWORD HKCU "${UNINSTALL}" "NoModify" 1
	WriteRegDWORD HKCU "${UNINSTALL}" "NoRepair" 1
	${GetSize} "$INSTDIR" "/S=0K" $0 $1 $2
	IntFmt $0 "0x%08X" $0
	WriteRegDWORD HKCU "${UNINSTALL}" "EstimatedSize" "$0"
SectionEnd

Section "Uninstall"
	Call un.CloseDesk
	Delete "$INSTDIR\phototrack.exe"
	Delete "$INSTDIR\phototrack-desk.exe"
	Delete "$INSTDIR\licences.txt"
	Delete "$INSTDIR\READ ME.txt"
	Delete "$INSTDIR\uninstall.exe"
	; Only empty folders go: what else somebody keeps there stays.
	SetOutPath "$TEMP"
	RMDir "$INSTDIR"
	RMDir "$LOCALAPPDATA\phototrack"
	Delete "$SMPROGRAMS\phototrack\phototrack.lnk"
	Delete "$SMPROGRAMS\phototrack\phototrack command window.lnk"
	RMDir "$SMPROGRAMS\phototrack"
	DeleteRegKey HKCU "${UNINSTALL}"
	DeleteRegKey HKCU "Software\phototrack"
SectionEnd
