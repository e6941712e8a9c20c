// Check reads the manifests of a cluster as the programs that take them do, and prints what it read or why they would be refused: fields
// that do not exist, values of the wrong type. It is a module of its own, so that hotday does not depend on what it needs.
//
//	go run . compose FILE
//	go run . kubernetes FILE...
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/compose-spec/compose-go/v2/cli"
	appsv1 "k8s.io/api/apps/v1"
	autoscalingv2 "k8s.io/api/autoscaling/v2"
	batchv1 "k8s.io/api/batch/v1"
	corev1 "k8s.io/api/core/v1"
	policyv1 "k8s.io/api/policy/v1"
	"k8s.io/apimachinery/pkg/runtime"
	"k8s.io/apimachinery/pkg/runtime/serializer"
	"k8s.io/apimachinery/pkg/util/yaml"
)

func main() {
	if err := run(os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string, out io.Writer) error {
	switch {
	case len(args) == 2 && args[0] == "compose":
		return compose(args[1], out)
	case len(args) > 1 && args[0] == "kubernetes":
		for _, file := range args[1:] {
			if err := kubernetes(file, out); err != nil {
				return fmt.Errorf("%s: %w", file, err)
			}
		}
		return nil
	}
	return errors.New("usage: check compose FILE | check kubernetes FILE...")
}

// compose loads a Compose file by the schema of the Compose specification and prints its services.
func compose(file string, out io.Writer) error {
	options, err := cli.NewProjectOptions([]string{file}, cli.WithName("hotday"))
	if err != nil {
		return err
	}
	project, err := options.LoadProject(context.Background())
	if err != nil {
		return err
	}
	for _, name := range project.ServiceNames() {
		fmt.Fprintln(out, "service", name, project.Services[name].Image)
	}
	return nil
}

// kubernetes decodes each document of a file strictly into the type that its apiVersion and kind name, and prints these.
func kubernetes(file string, out io.Writer) error {
	scheme := runtime.NewScheme()
	for _, add := range []func(*runtime.Scheme) error{appsv1.AddToScheme, autoscalingv2.AddToScheme, batchv1.AddToScheme, corev1.AddToScheme, policyv1.AddToScheme} {
		if err := add(scheme); err != nil {
			return err
		}
	}
	decoder := serializer.NewCodecFactory(scheme, serializer.EnableStrict).UniversalDeserializer()
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	for documents := yaml.NewDocumentDecoder(io.NopCloser(bytes.NewReader(text))); ; {
		document := make([]byte, 1<<20)
		n, err := documents.Read(document)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		_, kind, err := decoder.Decode(document[:n], nil, nil)
		if err != nil {
			return err
		}
		fmt.Fprintln(out, kind.GroupVersion(), kind.Kind)
	}
}
