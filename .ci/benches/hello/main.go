// Command hello prints a line, and is what the start of any Go program costs.
package main

import "fmt"

func main() { fmt.Println("hello from the harbour") }
